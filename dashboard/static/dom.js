// Small hands for the document: text only where it changed, elements from a tag and what it holds.
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function show(element, shown) {
  if (element.hidden === shown) element.hidden = !shown;
}

// make("li", { class: "flag", "aria-label": "…" }, "text", otherElement)
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name === "click") element.addEventListener("click", value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

export function draw(tag, attributes = {}, text = null) {
  const element = document.createElementNS(SVG, tag);
  set(element, attributes);
  if (text !== null) element.textContent = text;
  return element;
}

export function set(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (element.getAttribute(name) !== String(value)) element.setAttribute(name, value);
  }
}

// Redraws only when `key` changed, so that nothing is swapped under a finger or a reading eye.
const drawn = new WeakMap();

export function redraw(element, key, children) {
  const mark = JSON.stringify(key);
  if (drawn.get(element) === mark) return false;
  drawn.set(element, mark);
  const focused = element.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  element.replaceChildren(...children());
  if (focused) element.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus();
  return true;
}

// A table with a caption, column heads and rows whose first cell is the row's head.
export function table(caption, heads, rows) {
  const cells = (row) => row.map((cell, at) => make(at === 0 ? "th" : "td", at === 0 ? { scope: "row" } : {}, cell));
  return make("div", { class: "table", tabindex: "0", role: "region", "aria-label": caption },
    make("table", {},
      make("caption", {}, caption),
      make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
      make("tbody", {}, ...rows.map((row) => make("tr", {}, ...cells(row))))));
}

export function options(select, names, chosen = select.value) {
  redraw(select, names, () => names.map((name) => make("option", { value: name }, name)));
  if (names.includes(chosen)) select.value = chosen;
}

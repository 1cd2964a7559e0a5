// Looking back: two coats side by side.
import { allCoats, onCoats } from "./coats.js";
import * as view from "./coats_view.js";
import { make, redraw, table } from "./dom.js";
import { chooseCoat } from "./findings.js";
import { prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";

const words = strings.back;

function fillChoice(select, coats) {
  const before = select.value;
  redraw(select, coats.map((coat) => coat.id), () => [
    make("option", { value: "" }, strings.dash),
    ...coats.map((coat) => make("option", { value: coat.id }, `${view.title(coat)}, ${view.span(coat)}`)),
  ]);
  if (coats.some((coat) => coat.id === before)) select.value = before;
}

export function drawBack() {
  const coats = allCoats();
  fillChoice(elements.backFirst, coats);
  fillChoice(elements.backSecond, coats);
  const [first, second] = [elements.backFirst, elements.backSecond].map((s) => coats.find((coat) => coat.id === s.value));
  redraw(elements.backTable, [first, second, prefs], () => {
    if (!first || !second) return [make("p", {}, words.pick)];
    const mark = { differs: "≠ ", alike: "= ", unknown: "? " };
    const rows = view.compared(first, second, prefs).map((row) => [
      row.name, row.first, row.second,
      make("span", { class: `verdict-${row.verdict}` }, mark[row.verdict] + words[row.verdict]),
    ]);
    const heads = ["", `${view.title(first)}, ${view.span(first)}`, `${view.title(second)}, ${view.span(second)}`, words.verdict];
    return [table(strings.coats.conditions, heads, rows)];
  });
}

// From the address: #looking-back/<first>/<second>, or #looking-back/finding/<coat>.
export function choose(first, second) {
  if (first === "finding") {
    chooseCoat(second);
    return;
  }
  drawBack();
  if (first) elements.backFirst.value = first;
  if (second) elements.backSecond.value = second;
  drawBack();
}

export function setUp() {
  elements.backFirst.addEventListener("change", drawBack);
  elements.backSecond.addEventListener("change", drawBack);
  onCoats(drawBack);
}

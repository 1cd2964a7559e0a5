// The shelf: paints with their guided swatches, reducers with their solvents, targets to take in hand.
import { fault, onSubmit, post, run } from "./act.js";
import { bench } from "./bench.js";
import { make, redraw, say, show } from "./dom.js";
import { elements } from "./selectors.js";
import * as sheet from "./sheet.js";
import { guideSteps, sheetWords, swatchRows } from "./sheet_view.js";
import * as view from "./shelf_view.js";
import * as stock from "./stock.js";
import { strings } from "./strings.js";
import { targetFacts } from "./targets_view.js";
import { fill, many, number, typedNumber } from "./words.js";

const words = strings.shelf;
const shelf = stock.stock;
let guide = null;
let solventRows = 0;

export const refresh = () => stock.refresh();

function takeStock() {
  sheet.takePaints(shelf.paints, refresh);
  drawShelf();
  if (!elements.shelfPlace.hidden) refreshGuide();
}

// How much each next swatch would help takes a moment to work out: the shelf is shown meanwhile.
async function refreshGuide() {
  try {
    const answer = await fetch("/api/shelf/guide");
    guide = answer.ok ? await answer.json() : null;
    drawShelf();
  } catch {
    // the connection line says so
  }
}

export function drawShelf() {
  const white = view.whiteOf(shelf.paints);
  const ready = bench.state?.calibration.state === "ready";
  const paints = shelf.paints.map((paint) => [paint.name, paint.type, paint.details.swatches?.length, paint.details.drop_ml, paint.details.density_g_ml, paint.details.price_per_ml, sheetWords(paint), swatchRows(paint), guideSteps(guide, paint.name)]);
  say(elements.guideFirst, guide?.first ? fill(strings.sheet.guide_first, { words: guide.first.words }) : "");
  redraw(elements.paints, [paints, white, ready], () => shelf.paints.map((paint) => paintItem(paint, white, ready)));
  redraw(elements.reducers, shelf.reducers, () => shelf.reducers.map((reducer) => make("li", {},
    make("strong", {}, reducer.name), make("span", {}, view.solventsText(reducer.solvents)))));
  const inHand = bench.state?.target?.id;
  redraw(elements.targets, [shelf.targets, inHand], () => shelf.targets.map((target) => targetItem(target, inHand)));
  show(elements.paintsNone, shelf.paints.length === 0);
  show(elements.reducersNone, shelf.reducers.length === 0);
  show(elements.targetsNone, shelf.targets.length === 0);
  sheet.drawBeside(shelf.targets);
}

function paintItem(paint, white, ready) {
  const next = view.nextSwatch(paint, white);
  const count = many(words.swatches, paint.details.swatches?.length ?? 0);
  return make("li", {},
    make("strong", {}, paint.name),
    make("span", { class: "note" }, [paint.type, count].filter(Boolean).join(", ")),
    make("span", {}, view.swatchWords(paint, white)),
    next === "alone" || next === "let down" ? swatchButton(paint, white, next, ready) : null,
    guided(paint, ready),
    make("span", { class: "note" }, sheetWords(paint)),
    make("div", { class: "row" },
      make("button", { type: "button", class: "quiet", "data-key": `correct ${paint.id}`, "aria-label": fill(words.correct_named, { paint: paint.name }), click: () => correct(paint) }, words.correct),
      opener(strings.sheet.open_sheet, paint.name, sheet.openSheet),
      opener(strings.sheet.open_label, paint.name, sheet.openLabel)));
}

function opener(text, name, open) {
  return make("button", { type: "button", class: "quiet", "data-key": `${text} ${name}`, "aria-label": fill(strings.sheet.of_paint, { what: text, paint: name }), click: () => open(name) }, text);
}

// The guided set of a paint, folded: what each swatch is for, and the one that helps most now.
const unfolded = new Set();
function guided(paint, ready) {
  const found = guideSteps(guide, paint.name);
  if (!found) return null;
  const steps = found.steps.map((step) => make("li", { "data-state": step.state },
    make("span", {}, make("strong", {}, strings.sheet.step[step.state]), ` ${step.what}: ${step.why}`),
    ...step.acts.map((act) => stepButton(paint, step, act, ready))));
  const details = make("details", { open: unfolded.has(paint.id) }, make("summary", {}, strings.sheet.guided), make("p", { class: "words small" }, found.words), make("ul", { class: "rows" }, ...steps, ...swatchRows(paint).map((row) => measured(paint, row))));
  details.addEventListener("toggle", () => (details.open ? unfolded.add(paint.id) : unfolded.delete(paint.id)));
  return details;
}

// A swatch that turned out wrong is set aside: it stays on record and no longer counts.
function measured(paint, row) {
  const text = row.set_aside ? strings.sheet.take_back : strings.sheet.set_aside;
  const button = make("button", { type: "button", class: "quiet", "data-key": `aside ${paint.id} ${row.number}`, "aria-label": `${text}: ${paint.name}, ${row.what}` }, text);
  button.addEventListener("click", () => run(button, async () => {
    await post("/api/paints/swatches/set-aside", { paint: paint.name, number: row.number, set_aside: !row.set_aside });
    await refresh();
  }));
  return make("li", {}, make("span", {}, `${row.what}${row.set_aside ? `: ${strings.sheet.aside}` : ""}`), button);
}

function stepButton(paint, step, act, ready) {
  const text = act.over ? fill(strings.sheet.measure_over, { base: strings.sheet.bases[act.over] }) : strings.sheet.measure_swatch;
  const button = make("button", {
    type: "button", class: "quiet", disabled: !ready, "data-key": `${paint.id} ${step.what} ${act.over}`,
    "aria-label": `${text}: ${step.what}`,
  }, text);
  button.addEventListener("click", () => run(button, async () => {
    await post("/api/paints/swatches", act);
    await refresh();
  }));
  return button;
}

function swatchButton(paint, white, next, ready) {
  const act = next === "alone" ? words.measure_alone : words.measure_let_down;
  const button = make("button", {
    type: "button", "data-key": paint.id, disabled: !ready, "aria-label": fill(words.measure_named, { act, paint: paint.name }),
  }, act);
  button.addEventListener("click", () => run(button, async () => {
    await post("/api/paints/swatches", { parts: view.partsOf(paint, white, next) });
    await refresh();
  }));
  return button;
}

function targetItem(target, inHand) {
  const chip = make("span", { class: "chip large", "aria-hidden": "true" });
  chip.style.backgroundColor = target.screen.hex;
  const button = target.id === inHand ? make("span", { class: "note" }, words.in_hand) : make("button", {
    type: "button", "data-key": target.id, "aria-label": fill(words.take_named, { name: target.name }),
  }, words.take);
  if (target.id !== inHand) button.addEventListener("click", () => run(button, () => post(`/api/targets/${target.id}/choose`, {})));
  const tick = make("input", { type: "checkbox", "data-key": `beside ${target.id}`, "aria-label": fill(strings.sheet.beside_named, { name: target.name }) });
  tick.checked = sheet.isChosen(target.id);
  tick.addEventListener("change", () => sheet.chooseTarget(target.id, tick.checked, shelf.targets));
  return make("li", {}, make("strong", {}, chip, target.name), make("span", { class: "note" }, targetFacts(target)),
    make("div", { class: "row" }, button, make("label", { class: "check" }, tick, strings.sheet.beside_tick)));
}

function addSolventRow() {
  const at = solventRows;
  solventRows += 1;
  elements.solventRows.append(make("div", { class: "row" },
    make("label", {}, words.solvent, make("input", { name: `name-${at}`, list: "solvent-names", autocomplete: "off" })),
    make("label", {}, words.share, make("input", { name: `share-${at}`, inputmode: "decimal", size: "5", autocomplete: "off" }))));
}

function readReducer(form) {
  const field = form.elements;
  const name = field.name.value.trim();
  if (!name) return { faults: [["name", strings.mixing.need_name]] };
  const rows = Array.from({ length: solventRows }, (_, at) => [field[`name-${at}`].value, field[`share-${at}`].value]);
  const read = view.readShares(rows);
  if (read.words) return { faults: [[`${read.field}-${read.row}`, read.words]] };
  return { name, solvents: read.solvents, ...(field.no_data.checked ? { no_data: sheet.notListed(read.solvents) } : {}) };
}

// The form puts another bottle there, or corrects the one that was tapped; null: another bottle.
let correcting = null;
function correct(paint) {
  const { paintForm } = elements;
  const field = paintForm.elements;
  correcting = paint?.name ?? null;
  const { drop_ml: drop, white, density_g_ml: density, price_per_ml: price } = paint?.details ?? {};
  field.name.value = paint?.name ?? "";
  field.name.readOnly = paint !== null;
  if (paint) {
    field.family.value = paint.type ?? "enamel";
    field.drop_ml.value = String(drop ?? 0.05);
  }
  field.white.checked = Boolean(white);
  field.density_g_ml.value = density ?? "";
  field.price_per_ml.value = price ?? "";
  say(elements.paintCorrecting, paint ? fill(words.correcting, { paint: paint.name }) : "");
  say(paintForm.querySelector("button"), paint ? words.keep_paint : words.put);
  if (!paint) return;
  elements.paintNew.open = true;
  field.drop_ml.focus();
}

function readPaint(form) {
  const field = form.elements;
  const asked = { name: field.name.value.trim(), family: field.family.value, white: field.white.checked, drop_ml: typedNumber(field.drop_ml.value) };
  if (correcting !== asked.name) asked.new = true;
  const faults = [];
  if (!asked.name) faults.push(["name", strings.mixing.need_name]);
  if (asked.drop_ml === null) faults.push(["drop_ml", strings.mixing.need_number]);
  for (const name of ["density_g_ml", "price_per_ml"]) {
    // Left empty it is null, and no longer stated.
    asked[name] = typedNumber(field[name].value);
    if (asked[name] === null && field[name].value.trim()) faults.push([name, strings.mixing.need_number]);
  }
  return { asked, faults };
}

export function setUp() {
  const { paintForm, reducerForm } = elements;
  stock.onStock(takeStock);
  onSubmit(paintForm, readPaint, async ({ asked }) => {
    await post("/api/paints", asked);
    correct(null);
    await refresh();
  });
  for (let n = 0; n < 3; n += 1) addSolventRow();
  elements.solventMore.addEventListener("click", addSolventRow);
  onSubmit(reducerForm, readReducer, async (asked) => {
    await post("/api/reducers", asked);
    reducerForm.reset();
    for (const field of reducerForm.querySelectorAll("[aria-invalid]")) fault(field, "");
    await refresh();
  });
}

// The forms of one paint: its data sheet and its label; and targets shown beside each other.
import { fault, onSubmit, post } from "./act.js";
import { make, options, redraw, say, show, table } from "./dom.js";
import { keepsUnit, onPrefs, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import * as view from "./sheet_view.js";
import { strings } from "./strings.js";
import { fill, typedNumber, UNITS } from "./words.js";

const words = strings.sheet;
let paints = [];
let labelRows = 0;
let afterwards = async () => {};
let chosenTargets = [];

const paintNamed = (name) => paints.find((paint) => paint.name === name);

// Follows the shelf; what is being typed is left alone.
export function takePaints(shelf, refresh) {
  afterwards = refresh;
  const names = shelf.map((paint) => paint.name);
  const first = paints.length === 0;
  paints = shelf;
  for (const form of [elements.sheetForm, elements.labelForm]) options(form.elements.paint, names);
  if (first && names.length) {
    fillSheet();
    fillLabel();
  }
}

export function openForm(form, details, name) {
  details.open = true;
  form.elements.paint.value = name;
  form.elements.paint.dispatchEvent(new Event("change", { bubbles: true }));
  form.elements.paint.focus();
}

export const openSheet = (name) => openForm(elements.sheetForm, elements.sheetDetails, name);
export const openLabel = (name) => openForm(elements.labelForm, elements.labelDetails, name);

function clear(form) {
  for (const field of form.querySelectorAll("[aria-invalid]")) fault(field, "");
}

// --- the data sheet ---------------------------------------------------------------------------------

function fillSheet() {
  const { sheetForm, sheetAnswer } = elements;
  const limits = paintNamed(sheetForm.elements.paint.value)?.details.limits ?? null;
  sheetForm.elements.dries_by.value = limits?.dries_by ?? "";
  for (const [name, text] of Object.entries(view.typedLimits(limits, prefs.temperature))) sheetForm.elements[name].value = text;
  clear(sheetForm);
  say(sheetAnswer, "");
}

function readSheet(form) {
  const texts = Object.fromEntries(view.LIMITS.map(([name]) => [name, form.elements[name].value]));
  const { limits, faults } = view.readLimits(texts, prefs.temperature);
  const asked = { paint: form.elements.paint.value, limits: { ...limits, dries_by: form.elements.dries_by.value } };
  if (!asked.limits.dries_by) faults.unshift(["dries_by", words.need_dries]);
  if (!asked.paint) faults.unshift(["paint", strings.mixing.no_paint]);
  return { asked, faults };
}

function nameUnits() {
  for (const place of elements.sheetForm.querySelectorAll("[data-unit]")) {
    say(place, place.dataset.unit === "difference" && prefs.temperature === "c" ? "K" : UNITS[prefs.temperature]);
  }
}

// --- the label --------------------------------------------------------------------------------------

function addLabelRow() {
  const at = labelRows;
  labelRows += 1;
  const input = (name, size, extra = {}) => make("input", { name: `${name}-${at}`, autocomplete: "off", ...(size ? { size, inputmode: "decimal" } : {}), ...extra });
  elements.labelRows.append(make("div", { class: "row" },
    make("label", {}, strings.shelf.solvent, input("name", null, { list: "solvent-names" })),
    make("label", {}, words.share, input("share", "5")),
    make("label", {}, words.limit, input("limit", "5"))));
}

function fillLabel() {
  const { labelForm, labelAnswer } = elements;
  const field = labelForm.elements;
  const details = paintNamed(field.paint.value)?.details ?? {};
  const rows = Object.entries(details.solvents ?? {});
  while (labelRows < rows.length) addLabelRow();
  for (let at = 0; at < labelRows; at += 1) {
    const [name, share] = rows[at] ?? ["", null];
    const limit = details.data_sheet_limits_ppm?.[name];
    field[`name-${at}`].value = name;
    field[`share-${at}`].value = share === null ? "" : String(Number((share * 100).toPrecision(4)));
    field[`limit-${at}`].value = limit === undefined ? "" : String(limit);
  }
  field.two_part.value = { true: "yes", false: "no" }[details.two_part] ?? "";
  field.label.value = details.label ?? "";
  field.pigments.value = (details.pigments ?? []).join(", ");
  field.solids_g_ml.value = details.solids_g_ml ?? "";
  field.dust_limit_mg_m3.value = details.dust_limit_mg_m3 ?? "";
  field.no_data.checked = (details.no_data ?? []).length > 0;
  clear(labelForm);
  say(labelAnswer, "");
}

// The names that stand in none of the lists: kept only because the person says so.
export function notListed(solvents) {
  const listed = [...elements.solventNames.options].map((option) => option.value);
  return Object.keys(solvents).filter((name) => !listed.includes(name));
}

function readLabel(form) {
  const field = form.elements;
  const rows = Array.from({ length: labelRows }, (_, at) => ["name", "share", "limit"].map((name) => field[`${name}-${at}`].value));
  const { solvents, limits, faults } = view.readContents(rows);
  // What is left empty is sent as null: it is no longer stated, whatever stood on record.
  const asked = {
    paint: field.paint.value, solvents, label: field.label.value.trim(), pigments: view.pigmentsOf(field.pigments.value),
    two_part: { yes: true, no: false }[field.two_part.value] ?? null,
    data_sheet_limits_ppm: Object.keys(limits).length ? limits : null,
    no_data: field.no_data.checked ? notListed(solvents) : null,
  };
  for (const name of ["solids_g_ml", "dust_limit_mg_m3"]) {
    asked[name] = typedNumber(field[name].value);
    if (asked[name] === null && field[name].value.trim()) faults.push([name, strings.mixing.need_number]);
  }
  if (!asked.paint) faults.unshift(["paint", strings.mixing.no_paint]);
  return { asked, faults };
}

// --- targets ----------------------------------------------------------------------------------------

export function chooseTarget(id, chosen, targets) {
  chosenTargets = chosen ? [...chosenTargets.filter((other) => other !== id), id] : chosenTargets.filter((other) => other !== id);
  drawBeside(targets);
}

export const isChosen = (id) => chosenTargets.includes(id);

export function besideSwatches(rows) {
  return make("div", { class: "beside-swatches", "aria-hidden": "true" }, ...rows.map((row) => {
    const swatch = make("div", { class: `swatch${row.in_gamut ? "" : " out-of-gamut"}` });
    swatch.style.backgroundColor = row.hex;
    return swatch;
  }));
}

export function drawBeside(targets) {
  const rows = view.besideRows(targets, chosenTargets);
  show(elements.targetsBeside, rows.length > 1);
  redraw(elements.targetsBeside, rows, () => [besideSwatches(rows),
    table(words.beside, [words.target, "L* / a* / b*", fill(words.beside_de, { name: rows[0]?.name ?? "" })], rows.map((row) => [row.name, row.lab, row.de])),
    make("p", { class: "note" }, strings.mixing.screen)]);
}

export function setUp() {
  const { sheetForm, labelForm } = elements;
  nameUnits();
  onPrefs(nameUnits);
  for (const [name, kind] of view.LIMITS) if (kind !== "number") keepsUnit(sheetForm.elements[name], kind, "temperature");
  sheetForm.elements.paint.addEventListener("change", fillSheet);
  labelForm.elements.paint.addEventListener("change", fillLabel);
  onSubmit(sheetForm, readSheet, async ({ asked }) => {
    await post("/api/paints/limits", asked);
    await afterwards();
    say(elements.sheetAnswer, fill(words.sheet_kept, { paint: asked.paint }));
  });
  for (let n = 0; n < 3; n += 1) addLabelRow();
  elements.labelMore.addEventListener("click", addLabelRow);
  onSubmit(labelForm, readLabel, async ({ asked }) => {
    await post("/api/paints/label", asked);
    await afterwards();
    say(elements.labelAnswer, fill(words.label_kept, { paint: asked.paint }));
  });
}

// A printed chart: its certificate as pasted, which patch comes next.  Pure.
import { strings } from "./strings.js";
import { fill, many, number, typedNumber } from "./words.js";

const say = strings.chart;
const LEAST_NM = 6;

// A line of a pasted table: by tabs or semicolons, else by commas where they are no decimal commas, else by spaces.
export function cells(line) {
  const byComma = line.includes(",") && (line.includes(".") || /,\s/.test(line));
  const mark = /[\t;]/.test(line) ? /[\t;]+/ : byComma ? /,/ : /\s+/;
  return line.split(mark).map((cell) => cell.trim()).filter(Boolean);
}

function lastNumbers(row, count) {
  const values = row.slice(-count).map(typedNumber);
  return row.length > count && !values.includes(null) ? values : null;
}

export function labFault([l, a, b]) {
  if (!(l >= 0 && l <= 100)) return fill(say.lab_l, { got: number(l, 1) });
  return Math.hypot(a, b) > 130 ? fill(say.lab_ab, { a: number(a, 1), b: number(b, 1) }) : "";
}

function fractions(values) {
  return values.some((value) => value > 1.5) ? values.map((value) => value / 100) : values;
}

function heading(row) {
  const values = row.map(typedNumber);
  const from = values.findIndex((value) => value !== null);
  const nm = from < 0 ? [] : values.slice(from);
  return nm.length >= LEAST_NM && nm.every((value) => value >= 300) ? nm : null;
}

// "name L a b" a line; or a first line of wavelengths, then "name" and its reflectances a line.
export function readChart(text) {
  const lines = text.split("\n").map((line) => line.trim()).filter(Boolean);
  let wavelength_nm = null;
  const patches = [];
  for (const [at, line] of lines.entries()) {
    const row = cells(line);
    const nm = at === 0 ? heading(row) : null;
    if (nm) {
      wavelength_nm = nm;
      continue;
    }
    const count = wavelength_nm?.length ?? 3;
    const values = lastNumbers(row, count);
    const wrong = { n: at + 1, text: line.slice(0, 40), count };
    if (!values) return { words: fill(wavelength_nm ? say.bad_spectrum : say.bad_lab, wrong) };
    const name = row.slice(0, -count).join(" ");
    const fault = wavelength_nm ? "" : labFault(values);
    if (fault) return { words: fill(say.bad_line, { n: at + 1, words: fault }) };
    if (patches.some((patch) => patch.name === name)) return { words: fill(say.twice, { name }) };
    patches.push(wavelength_nm ? { name, wavelength_nm, reflectance: fractions(values) } : { name, lab_d50_2: values });
  }
  return { patches };
}

// The list as this browser kept it; what is not a list of patches is none.
export function keptChart(text) {
  try {
    const kept = JSON.parse(text || "[]");
    return Array.isArray(kept) ? kept.filter((patch) => typeof patch?.name === "string") : [];
  } catch {
    return [];
  }
}

// Each patch with its state; `now` is the one chosen, else the first that is neither measured nor skipped.
export function chartRows(patches, measured, skipped, chosen) {
  const open = patches.filter(({ name }) => !measured.includes(name) && !skipped.has(name));
  const now = patches.find(({ name }) => name === chosen && !measured.includes(name)) ?? open[0] ?? null;
  const names = [...patches.map(({ name }) => name), ...measured.filter((name) => !patches.some((p) => p.name === name))];
  const state = (name) => {
    if (measured.includes(name)) return "measured";
    if (name === now?.name) return "now";
    return skipped.has(name) ? "skipped" : "later";
  };
  return { now, rows: names.map((name) => ({ name, state: state(name) })) };
}

export function chartWords(calibration, patches) {
  if (!calibration.takes_patches) return say.begin_first;
  const n = calibration.patches.length;
  const counted = patches.length ? fill(say.counted, { n, of: patches.length }) : many(say.measured_n, n);
  return [counted, calibration.unused_patches ? say.unused : n ? say.used : ""].filter(Boolean).join(" ");
}

// --- the check tile ---------------------------------------------------------------------------------

// What a look at the check tile says: the reference, holding, or moved.
export function checkVerdict(check, allowed) {
  if (check.de00 === null) return { state: "reference", words: fill(strings.check.reference, { name: check.name }) };
  const holds = check.de00 <= allowed;
  const values = { name: check.name, de: number(check.de00, 2), allowed: number(allowed, 2) };
  return { state: holds ? "holds" : "moved", words: fill(holds ? strings.check.holds : strings.check.moved, values) };
}

// `ever`: of all calibrations, not of the one in force alone.
export function checkSummary(checks, allowed, ever = false) {
  const looks = checks.filter((check) => check.de00 !== null);
  if (checks.length === 0) return ever ? strings.check.none_ever : strings.check.none;
  if (looks.length === 0) return strings.check.only_reference;
  const worst = Math.max(...looks.map((check) => check.de00));
  const over = looks.filter((check) => check.de00 > allowed).length;
  return fill(ever ? strings.check.summary_ever : strings.check.summary, { n: many(strings.check.looks, looks.length), last: number(looks.at(-1).de00, 2), worst: number(worst, 2), allowed: number(allowed, 2), over });
}

// Points in a box, left to right by time; one alone stands in the middle.  A wild look is drawn at the
// top, so that the small drifts stay seen; its number stands in the table.
export function checkPoints(checks, allowed, { left, right, top, bottom }) {
  const times = checks.map((check) => Date.parse(check.at));
  const [first, last] = [Math.min(...times), Math.max(...times)];
  const worst = Math.max(0, ...checks.map((check) => check.de00 ?? 0));
  const high = Math.min(Math.max(2 * allowed, worst * 1.1), 4 * allowed);
  const y = (de00) => bottom - (Math.min(de00, high) / high) * (bottom - top);
  const x = (at) => (last > first ? left + ((at - first) / (last - first)) * (right - left) : (left + right) / 2);
  return { limit: y(allowed), points: checks.map((check, at) => ({ x: x(times[at]), y: y(check.de00 ?? 0), moved: check.de00 > allowed, begins: check.de00 === null })) };
}

// The line through the points; a reference begins it anew, for nothing drifts from one to the next.
export function checkLine(points) {
  return points.map(({ x, y, begins }, at) => `${at === 0 || begins ? "M" : "L"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
}

// --- a common chart ---------------------------------------------------------------------------------

// The patches to be put on the list: the one of that name, or all of them where none is named.
export function commonPatches(chart, name) {
  return chart.patches.filter((patch) => name === "" || patch.name === name).map((patch) => ({ name: patch.name, chart: chart.name }));
}

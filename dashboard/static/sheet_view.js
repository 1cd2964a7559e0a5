// A paint's data sheet and its label as typed, the targets beside each other.  Pure.
import { ciede2000 } from "./colour_difference.js";
import { strings } from "./strings.js";
import { fill, known, number, toOurs, toReaders, typedNumber } from "./words.js";

const say = strings.sheet;

// The fields of `climate/paint_limits.py`; a temperature is typed in the reader's own units.
export const LIMITS = [
  ["reference_c", "temperature"], ["air_min_c", "temperature"], ["air_max_c", "temperature"],
  ["surface_min_c", "temperature"], ["surface_max_c", "temperature"], ["rh_min_pct", "number"],
  ["rh_max_pct", "number"], ["surface_over_dew_k", "difference"], ["flash_off_min", "number"],
  ["recoat_from_h", "number"], ["wrinkle_from_h", "number"], ["wrinkle_to_h", "number"], ["pot_life_h", "number"],
];

const tidy = (value) => Number(value.toPrecision(6));

// From typed texts to limits; what is left empty is not stated.
export function readLimits(texts, units) {
  const limits = {};
  const faults = [];
  for (const [name, kind] of LIMITS) {
    const text = String(texts[name] ?? "").trim();
    if (text === "") continue;
    const value = typedNumber(text);
    if (value === null) faults.push([name, strings.mixing.need_number]);
    else limits[name] = tidy(toOurs[kind](value, units));
  }
  const [from, to] = [limits.wrinkle_from_h, limits.wrinkle_to_h];
  if (known(from) !== known(to) && faults.length === 0) faults.push([known(from) ? "wrinkle_to_h" : "wrinkle_from_h", say.need_both]);
  return { limits, faults };
}

// What stands on record, as it would be typed; an empty text where the sheet states nothing.
export function typedLimits(limits, units) {
  return Object.fromEntries(LIMITS.map(([name, kind]) => [name, known(limits?.[name]) ? String(tidy(toReaders[kind](limits[name], units))) : ""]));
}

export function sheetWords(paint) {
  const { limits, two_part: two, solvents } = paint.details;
  const sheet = limits ? say.sheet_there : say.sheet_none;
  const label = solvents && Object.keys(solvents).length ? say.label_there : say.label_none;
  return [sheet, label, two === true ? say.two_part_is : ""].filter(Boolean).join(" ");
}

// Rows of [solvent, share in per cent, the sheet's limit in ppm] of a bottle; the rest is pigment and binder.
export function readContents(rows) {
  const solvents = {};
  const limits = {};
  const faults = [];
  let lastRow = 0;
  for (const [at, [typed, shareText, limitText]] of rows.entries()) {
    const name = typed.trim();
    if (!name && !shareText.trim() && !limitText.trim()) continue;
    lastRow = at;
    const share = typedNumber(shareText.replace("%", ""));
    if (!name) faults.push([`name-${at}`, strings.shelf.need_solvent]);
    else if (share === null || share <= 0) faults.push([`share-${at}`, fill(strings.shelf.need_share, { solvent: name })]);
    else solvents[name] = tidy((solvents[name] ?? 0) + share / 100);
    if (limitText.trim() === "") continue;
    const ppm = typedNumber(limitText);
    if (ppm === null || ppm <= 0) faults.push([`limit-${at}`, strings.mixing.need_number]);
    else if (name) limits[name] = ppm;
  }
  const sum = Object.values(solvents).reduce((total, share) => total + share, 0);
  if (sum > 1.0005) faults.push([`share-${lastRow}`, fill(say.too_much, { sum: number(sum * 100, 1) })]);
  return { solvents, limits, faults };
}

export const pigmentsOf = (text) => text.split(/[,;\n]/).map((name) => name.trim()).filter(Boolean);

// --- targets beside each other ----------------------------------------------------------------------

const MOST_BESIDE = 4;

// The chosen targets, the first as the one the others are held against.
export function besideRows(targets, chosen, most = MOST_BESIDE) {
  const shown = chosen.map((id) => targets.find((target) => target.id === id)).filter(Boolean).slice(0, most);
  return shown.map((target) => ({
    name: target.name,
    hex: target.screen.hex,
    in_gamut: target.screen.in_gamut,
    lab: target.lab.map((value) => number(value, 1)).join(" / "),
    de: target.white === shown[0].white ? number(ciede2000(shown[0].lab, target.lab), 1) : say.other_white,
  }));
}

// --- the guided set of a paint ----------------------------------------------------------------------

const partsText = (parts) => Object.entries(parts).map(([name, n]) => `${number(n, 0)} ${name}`).join(" + ");

// What was measured of a paint, newest last, with its number on record.
export const swatchRows = (paint) => (paint.details.swatches ?? []).map((swatch, at) => ({
  number: at + 1,
  what: [fill(say.swatch_parts, { n: at + 1, parts: partsText(swatch.parts) }), swatch.over ? fill(say.over, { base: say.bases[swatch.over] }) : ""].filter(Boolean).join(", "),
  set_aside: Boolean(swatch.set_aside),
}));

// The steps of a paint's guided set; the one that helps most is marked, each open one has its acts.
export function guideSteps(guide, paint) {
  const own = guide?.paints.find((one) => one.paint === paint);
  if (!own) return null;
  const same = (step, next) => next && partsText(step.parts) === partsText(next.parts) && String(step.over) === String(next.over);
  return {
    words: own.words,
    steps: own.steps.map((step) => ({
      what: step.over.length ? fill(say.film, { paint }) : Object.keys(step.parts).length === 1 ? fill(say.alone, { paint }) : fill(say.parts, { parts: partsText(step.parts) }),
      why: step.why,
      state: step.done ? "done" : same(step, own.next) ? "next" : "open",
      acts: step.done ? [] : (step.over.length ? step.over : [null]).map((over) => ({ parts: step.parts, over })),
    })),
  };
}

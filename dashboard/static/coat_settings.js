// How a coat is sprayed: what is typed into the coat's form, read and said again.  Pure.
import { strings } from "./strings.js";
import { fill, known, millilitres, ML_PER_FL_OZ, number, typedNumber } from "./words.js";

const say = strings.coat_form;

// What an airbrush can mean; what lies outside is asked for again, never corrected.
const RANGES = {
  distance_mm: [10, 1000], efflux_s: [1, 1000], wet_film_um: [1, 500], sprayed_ml: [0.05, 500],
  area_cm2: [0.5, 50_000],
};
const PRESSURES = { bar: [0.1, 7], psi: [1.5, 100], kpa: [10, 700], pa: [10_000, 700_000] };
export const NUMBERS = [...Object.keys(RANGES), "pressure"];

const within = (value, [low, high]) => known(value) && value >= low && value <= high;
const rangeWords = ([low, high]) => fill(say.range, { low: number(low, low < 1 ? 2 : 0), high: number(high, 0) });

// `typed`: the form's fields as text.  Fields left empty are not known and not sent.
export function readSettings(typed, volumeUnit) {
  const settings = {};
  const faults = [];
  for (const [name, range] of Object.entries(RANGES)) {
    if (!typed[name]?.trim()) continue;
    let value = typedNumber(typed[name]);
    if (name === "sprayed_ml" && known(value)) value = millilitres(value, volumeUnit);
    if (within(value, range)) settings[name] = round(value);
    else faults.push([name, name === "sprayed_ml" && volumeUnit === "floz"
      ? rangeWords(range.map((ml) => ml / ML_PER_FL_OZ)) : rangeWords(range)]);
  }
  if (typed.pressure?.trim()) {
    const value = typedNumber(typed.pressure);
    const range = PRESSURES[typed.pressure_unit];
    if (within(value, range)) settings[`pressure_${typed.pressure_unit}`] = value;
    else faults.push(["pressure", rangeWords(range)]);
  }
  if (typed.base_l) settings.base_l = typed.base_l;
  if (typed.family) settings.family = typed.family;
  return { settings, faults };
}

const round = (value) => Number(value.toPrecision(6));

// The settings of a coat on record as the form's fields.
export function fieldsOf(settings, volumeUnit) {
  const fields = {};
  for (const name of Object.keys(RANGES)) fields[name] = known(settings[name]) ? text(settings[name]) : "";
  if (known(settings.sprayed_ml) && volumeUnit === "floz") fields.sprayed_ml = text(round(settings.sprayed_ml / ML_PER_FL_OZ));
  const unit = Object.keys(PRESSURES).find((name) => known(settings[`pressure_${name}`]));
  fields.pressure = unit ? text(settings[`pressure_${unit}`]) : "";
  if (unit) fields.pressure_unit = unit;
  fields.base_l = typeof settings.base_l === "string" ? settings.base_l : "";
  fields.family = typeof settings.family === "string" ? settings.family : "";
  return fields;
}

const text = (value) => String(Math.round(value * 1000) / 1000);

// The coat whose settings the next one is likely to share: the last of that piece, else the last.
export function lastCoat(coats, piece) {
  const held = coats.filter((coat) => Object.keys(coat.settings ?? {}).length > 0);
  return held.find((coat) => coat.piece_name === piece) ?? held[0] ?? null;
}

// Settings in words, in the order of the form; names that the form does not know stand as they are.
export function settingRows(settings, volumeUnit) {
  const shown = Object.entries(say.shown).flatMap(([name, [label, unit]]) => {
    const value = settings[name];
    if (value === undefined || value === null || value === "") return [];
    if (name === "sprayed_ml" && volumeUnit === "floz" && known(value)) return [[label, `${text(round(value / ML_PER_FL_OZ))} fl oz`]];
    return [[label, known(value) ? `${text(value)} ${unit}`.trim() : (say.bases[value] ?? String(value))]];
  });
  const others = Object.entries(settings).filter(([name]) => !(name in say.shown));
  return [...shown, ...others.map(([name, value]) => [name.replaceAll("_", " "), String(value)])];
}

export function briefly(typed, volumeUnit) {
  const { settings } = readSettings(typed, volumeUnit);
  const words = settingRows(settings, volumeUnit).map(([, value]) => value);
  return words.length ? fill(say.brief, { words: words.join(", ") }) : say.brief_none;
}

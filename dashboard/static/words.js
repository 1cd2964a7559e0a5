// Sentences filled in, numbers with their units, ages and times.  Pure: no page, no clock, no network.
import { strings } from "./strings.js";

// "{name} is here" with { name: "A" } → "A is here".
export function fill(text, values = {}) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

// "one|many" by number; {n} is filled in.
export function many(text, n) {
  const [one, other = one] = text.split("|");
  return fill(n === 1 ? one : other, { n });
}

// The bench's own sentences begin small where they follow a colon; alone they begin large.
export const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);

export function known(value) {
  return typeof value === "number" && Number.isFinite(value);
}

// A number with so many places and a true minus sign; a dash where there is none.
export function number(value, places) {
  if (!known(value)) return strings.dash;
  const text = value.toFixed(places);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "−");
}

export function temperature(value_c, units, places = 1) {
  if (!known(value_c)) return strings.dash;
  return units === "f" ? `${number(value_c * 1.8 + 32, places)} °F` : `${number(value_c, places)} °C`;
}

// What was typed in the reader's unit, as °C; null stays null.
export function celsius(value, units) {
  return known(value) && units === "f" ? (value - 32) / 1.8 : value;
}

// A difference of temperatures: kelvin, or degrees Fahrenheit without the 32.
export function difference(value_k, units, places = 1) {
  if (!known(value_k)) return strings.booth.unjudged;
  return units === "f" ? `${number(value_k * 1.8, places)} °F` : `${number(value_k, places)} K`;
}

export const ML_PER_FL_OZ = 29.5735295625; // US fluid ounce, NIST SP 811

export function millilitres(value, unit) {
  return unit === "floz" ? value * ML_PER_FL_OZ : value;
}

export function volume(value_ml, unit) {
  if (!known(value_ml)) return strings.dash;
  return `${number(toReaders.volume(value_ml, unit), unit === "floz" ? 3 : 2)} ${UNITS[unit]}`;
}

// What the reader's units are called, and figures from them into ours (°C, K, mL) and back.
export const UNITS = { c: "°C", f: "°F", ml: "mL", floz: "fl oz" };
export const toOurs = {
  temperature: celsius,
  difference: (value, unit) => (unit === "f" ? value / 1.8 : value),
  volume: millilitres,
  number: (value) => value,
};
export const toReaders = {
  temperature: (value, unit) => (unit === "f" ? value * 1.8 + 32 : value),
  difference: (value, unit) => (unit === "f" ? value * 1.8 : value),
  volume: (value, unit) => value / millilitres(1, unit),
  number: (value) => value,
};

// A typed figure said in another unit; what is no number stays as it was typed.
export function retyped(text, kind, before, now) {
  const value = typedNumber(text);
  if (value === null || before === now) return text;
  return String(Number(toReaders[kind](toOurs[kind](value, before), now).toPrecision(6)));
}

export function age(ms) {
  const s = Math.max(0, Math.round(ms / 1000));
  if (s < 120) return fill(strings.age.s, { n: s });
  if (s < 7200) return fill(strings.age.min, { n: Math.round(s / 60) });
  return fill(strings.age.h, { n: number(s / 3600, 1) });
}

export function clockTime(iso) {
  return new Date(iso).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
}

export function dayAndTime(iso) {
  const day = { year: "numeric", month: "short", day: "numeric", hour: "2-digit", minute: "2-digit" };
  return new Date(iso).toLocaleString([], day);
}

// What is typed as a decimal, with comma or point; null where it is no number.
export function typedNumber(text) {
  const plain = String(text ?? "").trim().replace(",", ".").replace("−", "-");
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : null;
}

// A value of a channel on record in the reader's units.
export function channelValue(channel, value, prefs, places = 1) {
  if (!known(value)) return strings.dash;
  if (["air_temperature", "part_temperature", "dew_point"].includes(channel)) {
    return temperature(value, prefs.temperature, places);
  }
  if (channel.includes("margin")) return difference(value, prefs.temperature, places);
  if (channel === "relative_humidity") return `${number(value, 0)} %RH`;
  if (channel === "air_speed") return `${number(value, 2)} m/s`;
  return `${number(value, places)} Pa`;
}

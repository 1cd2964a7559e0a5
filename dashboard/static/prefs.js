// What this screen prefers, kept in the browser; the page works without anything kept.
import { retyped } from "./words.js";

const KEY = "sprayout-screen";
const USUAL = {
  temperature: "c", volume: "ml", light: "auto", sound: false, wake: false, keys: true, person: "", tile: "", chart: "",
};

// Only known names with values of the usual kind are taken from what was kept.  Pure.
export function readPrefs(text) {
  let kept = {};
  try {
    kept = JSON.parse(text ?? "{}") ?? {};
  } catch {
    kept = {};
  }
  return Object.fromEntries(
    Object.entries(USUAL).map(([name, usual]) => [name, typeof kept[name] === typeof usual ? kept[name] : usual]),
  );
}

function stored() {
  try {
    return localStorage.getItem(KEY);
  } catch {
    return null; // a browser that keeps nothing
  }
}

export const prefs = readPrefs(stored());
const listeners = [];
const typedFields = [];

export function onPrefs(listener) {
  listeners.push(listener);
}

// A figure that stands in this field is said in the new unit when the unit changes, before anything else
// is drawn: one that only its label renames would be sent wrong.
export function keepsUnit(field, kind, name = kind) {
  typedFields.push({ field, kind, name });
}

export function setPref(name, value) {
  const before = prefs[name];
  prefs[name] = value;
  try {
    localStorage.setItem(KEY, JSON.stringify(prefs));
  } catch {
    // kept for this visit only
  }
  for (const one of typedFields) if (one.name === name) one.field.value = retyped(one.field.value, one.kind, before, value);
  for (const listener of listeners) listener(name);
}

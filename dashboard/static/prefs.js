// What this screen prefers, kept in the browser; the page works without anything kept.
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

export function onPrefs(listener) {
  listeners.push(listener);
}

export function setPref(name, value) {
  prefs[name] = value;
  try {
    localStorage.setItem(KEY, JSON.stringify(prefs));
  } catch {
    // kept for this visit only
  }
  for (const listener of listeners) listener(name);
}

// Settings of this screen: units, light, sound, wake lock, keys; kept in the browser.
import { say } from "./dom.js";
import { onPrefs, prefs, setPref } from "./prefs.js";
import { elements } from "./selectors.js";
import { beep } from "./sound.js";
import { strings } from "./strings.js";

const words = strings.settings;
let lock = null;

async function wake() {
  if (!prefs.wake) {
    await lock?.release();
    lock = null;
    say(elements.wakeWords, words.wake_off);
    return;
  }
  try {
    lock = await navigator.wakeLock.request("screen");
    // The browser may let go of it by itself, as when the battery is low.
    lock.addEventListener("release", () => say(elements.wakeWords, words.wake_off));
    say(elements.wakeWords, words.wake_on);
  } catch {
    say(elements.wakeWords, words.wake_no);
  }
}

function light() {
  document.documentElement.dataset.light = prefs.light;
}

function fillIn() {
  const field = elements.settingsForm.elements;
  for (const name of ["temperature", "volume", "light"]) field[name].value = prefs[name];
  for (const name of ["sound", "wake", "keys"]) field[name].checked = prefs[name];
  field.person.value = prefs.person;
}

export function setUp() {
  light();
  fillIn();
  elements.settingsForm.addEventListener("submit", (event) => event.preventDefault());
  elements.settingsForm.addEventListener("change", ({ target }) => {
    setPref(target.name, target.type === "checkbox" ? target.checked : target.value.trim());
    if (target.name === "sound" && prefs.sound) beep(false);
  });
  onPrefs((name) => {
    if (name === "light") light();
    if (name === "wake") wake();
    if (name === "person") fillIn();
  });
  if (prefs.wake) wake();
  else say(elements.wakeWords, "wakeLock" in navigator ? words.wake_off : words.wake_no);
  // The browser lets go of the lock when the page is hidden.
  document.addEventListener("visibilitychange", () => prefs.wake && !document.hidden && wake());
}

// Instruments: calibration as a guided act, boards and probes, notices.
import { fault, post, run } from "./act.js";
import { announce } from "./announce.js";
import { bench } from "./bench.js";
import { make, redraw, say, show } from "./dom.js";
import * as view from "./instruments_view.js";
import { prefs, setPref } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { age, clockTime, fill, many } from "./words.js";

const words = strings.instruments;

export function drawInstruments() {
  const { state } = bench;
  const { calibration } = state;
  const since = calibration.at ? ` ${fill(words.due, { age: age(Date.parse(state.at) - Date.parse(calibration.at)) })}` : "";
  say(elements.calibrationWords, `${calibration.words}.${since}`);
  redraw(elements.calibrationDue, calibration.due ?? [], () => calibration.due.map((reason) => make("li", {}, fill(words.due_now, { reason }))));
  say(elements.calibrationHolds, view.holdsWords(calibration));
  for (const [step, at] of Object.entries(view.calibrationSteps(state))) {
    const item = step === "dark" ? elements.calibrationDark : elements.calibrationWhite;
    item.dataset.state = at;
    say(item.querySelector(".step-state"), strings.first[at]);
  }
  drawSteps(calibration.state);
  redraw(elements.devices, state.devices, () => state.devices.map(deviceItem));
  show(elements.devicesNone, state.devices.length === 0);
  redraw(elements.notices, state.notices, () => state.notices.map((notice) => make("li", {},
    `${clockTime(notice.at)} ${notice.source}: ${notice.words}${notice.times > 1 ? ` (${many(words.times, notice.times)})` : ""}`)));
  show(elements.noticesNone, state.notices.length === 0);
}

// The first visit has the same two acts; all four buttons follow the bench.
export function drawSteps(at) {
  const noBoard = at === "no board";
  elements.calibrateDark.disabled = noBoard;
  elements.calibrateWhite.disabled = noBoard || at === "none";
  elements.calibrateGain.disabled = noBoard;
  elements.firstDarkAct.hidden = at !== "none";
  elements.firstWhiteAct.hidden = at !== "dark measured";
}

function deviceItem(device) {
  return make("li", { class: device.online ? "" : "offline" },
    make("strong", {}, `${device.device}: ${device.online ? words.online : words.offline}`),
    make("span", {}, device.words),
    make("span", { class: "note" }, [fill(words.since, { time: clockTime(device.since) }), view.deviceCounts(device)].filter(Boolean).join(", ")));
}

// What is refused stands beside the step, above its button.
function faultOf(button) {
  let place = button.previousElementSibling;
  if (!place?.classList.contains("error")) {
    place = make("p", { class: "error", role: "alert" });
    button.before(place);
  }
  return place;
}

async function calibrate(button, path, form) {
  const label = button.textContent;
  const place = faultOf(button);
  say(place, "");
  await run(button, async () => {
    say(button, strings.first.measuring);
    try {
      await post(path, form);
      announce(`${label}: ${strings.first.done}`);
    } finally {
      say(button, label);
    }
  }, (refused) => say(place, refused.message));
}

function tile() {
  const read = view.readTile(prefs.tile);
  return read.wavelength_nm?.length ? { wavelength_nm: read.wavelength_nm, reflectance: read.reflectance } : {};
}

function onCalibrate(button, path, form) {
  button.addEventListener("click", () => calibrate(button, path, form()));
  button.disabled = false;
}

function setUpTile() {
  const { tileForm, tileWords } = elements;
  const tell = () => {
    const n = view.readTile(prefs.tile).wavelength_nm?.length ?? 0;
    say(tileWords, n ? fill(words.tile_kept, { n }) : words.tile_flat);
    say(elements.tileUsed, n ? fill(words.tile_used, { n }) : words.tile_flat);
  };
  tileForm.elements.tile.value = prefs.tile;
  tell();
  tileForm.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = tileForm.elements.tile.value;
    const { words: wrong = "" } = view.readTile(text);
    fault(tileForm.elements.tile, wrong);
    if (wrong) return;
    setPref("tile", text);
    tell();
  });
}

export function setUp() {
  for (const button of [elements.calibrateDark, elements.firstDarkAct]) onCalibrate(button, "/api/calibration/dark", () => ({}));
  for (const button of [elements.calibrateWhite, elements.firstWhiteAct]) onCalibrate(button, "/api/calibration/white", tile);
  onCalibrate(elements.calibrateGain, "/api/calibration/gain", () => ({}));
  setUpTile();
}

// The page: draws the bench's state, live, and sends what the person does.
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import * as view from "./view.js";

const PLACES = { air_c: 1, rh_pct: 0, part_c: 1, booth_pressure_pa: 1, air_speed_ms: 2 };
let state = null;
let live = null;
let liveCame_ms = 0;
let boothCame_ms = 0;
let connected = false;

// --- drawing -----------------------------------------------------------------------------------

function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

function paint(element, screen) {
  element.style.backgroundColor = screen ? screen.hex : "";
  element.classList.toggle("empty", !screen);
  element.classList.toggle("out-of-gamut", Boolean(screen) && !screen.in_gamut);
  if (screen) element.style.color = isDark(screen.hex) ? "#fff" : "#000";
}

function isDark(hex) {
  const [r, g, b] = [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
  return 0.3 * r + 0.59 * g + 0.11 * b < 128;
}

function list(element, entries, draw) {
  element.replaceChildren(...entries.map(draw));
}

function item(text, className = "") {
  const entry = document.createElement("li");
  entry.textContent = text;
  entry.className = className;
  return entry;
}

function drawColour() {
  const target = state?.target ?? null;
  const calibrated = state?.calibration.state === "ready";
  const age_ms = live ? performance.now() - liveCame_ms : 0;
  const stale = !connected || (live !== null && age_ms > 2000);
  elements.mixing.classList.toggle("stale", stale);
  paint(elements.targetSwatch, target?.screen);
  paint(elements.liveSwatch, live?.screen);
  say(elements.de00, live && live.de00 !== null ? view.number(live.de00, 2) : "–");
  say(elements.verdictWords, view.verdictText(live, target, calibrated));
  elements.verdictWords.dataset.verdict = live?.verdict ?? "none";
  say(elements.whiteWords, strings.white[(target ?? live)?.white] ?? strings.white["d65-10"]);
  say(elements.targetName, target ? target.name : "target");
  [0, 1, 2].forEach((at) => {
    say(elements.target[at], target ? view.number(target.lab[at], 1) : "–");
    say(elements.live[at], live ? view.number(live.lab[at], 1) : "–");
  });
  say(elements.liveU95, live ? `± ${view.number(live.u95_de00, 2)}` : "–");
  say(elements.liveNote, view.liveNote(live, age_ms));
}

function drawBooth() {
  if (!state) return;
  const booth = state.booth;
  const later_ms = performance.now() - boothCame_ms;
  for (const [key, element] of Object.entries(elements.channels)) {
    const shown = view.channelText(booth[key], PLACES[key], later_ms, booth.silent_after_ms);
    say(element, shown.text);
    element.classList.toggle("stale", shown.stale || !connected);
  }
  const kind = booth.dew_point_kind ?? "dew point";
  say(elements.dewKind, kind[0].toUpperCase() + kind.slice(1));
  const dew = booth.dew_point_c === null ? strings.unknownMargin : `${view.number(booth.dew_point_c, 1)} °C`;
  say(elements.dewPoint, dew);
  say(elements.margin, view.kelvinText(booth.margin_k));
}

function drawFlag(flag) {
  const entry = item("", `flag ${flag.level}`);
  const title = document.createElement("strong");
  title.textContent = view.flagText(flag);
  const words = document.createElement("span");
  words.textContent = [flag.words, flag.would_help].filter(Boolean).join(". What would help: ");
  entry.append(title, words);
  if (flag.acknowledged_by) {
    entry.append(Object.assign(document.createElement("em"), { textContent: strings.acknowledgedBy(flag.acknowledged_by) }));
  } else {
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: strings.acknowledge });
    button.setAttribute("aria-label", `${strings.acknowledge}: ${flag.title}`);
    button.addEventListener("click", () => withName((person) => send(`/api/flags/${flag.id}/acknowledge`, { person }, button)));
    entry.append(button);
  }
  return entry;
}

function drawCoat(coat) {
  const entry = item("");
  const title = document.createElement("strong");
  title.textContent = view.coatText(coat);
  const words = document.createElement("span");
  words.textContent = coat.end ? view.conditionsText(coat.conditions) : "";
  entry.append(title, words);
  return entry;
}

function drawCautions(cautions) {
  say(elements.cautionsLine, cautions.one_line);
  if (elements.cautionsList.childElementCount !== cautions.list.length) {
    list(elements.cautionsList, cautions.list, (caution) => item(caution.words));
  }
  elements.cautionsForm.hidden = cautions.read_by !== null;
  elements.cautionsRead.hidden = cautions.read_by === null;
  if (cautions.read_by) {
    say(elements.cautionsRead, strings.readBy(cautions.read_by, view.clockText(cautions.read_at)));
  }
}

let flagsDrawn = "";
function drawFlags(flags) {
  // Redrawn only when something changed, so that a button is not swapped under a finger.
  const drawn = JSON.stringify(flags);
  if (drawn === flagsDrawn) return;
  flagsDrawn = drawn;
  list(elements.flags, flags, drawFlag);
  elements.noFlags.hidden = flags.length > 0;
}

function drawState() {
  say(elements.benchName, state.bench);
  drawCautions(state.cautions);
  say(elements.batchWords, view.batchText(state.batch));
  list(elements.trail, state.batch?.swatches ?? [], (swatch) => item(view.trailText(swatch)));
  drawFlags(state.flags);
  elements.coatForm.hidden = state.coat !== null;
  elements.coatRunning.hidden = state.coat === null;
  if (state.coat) {
    const piece = state.coats.find((coat) => coat.id === state.coat.id)?.piece_name ?? "";
    say(elements.coatWords, strings.running(state.coat.coat_kind, piece, view.clockText(state.coat.start)));
  }
  list(elements.coatList, state.coats, drawCoat);
  elements.noCoats.hidden = state.coats.length > 0;
  say(elements.calibrationWords, state.calibration.words);
  elements.calibrateWhite.disabled = state.calibration.state === "no board" || state.calibration.state === "none";
  elements.calibrateDark.disabled = state.calibration.state === "no board";
  elements.measure.disabled = state.calibration.state !== "ready";
  list(elements.devices, state.devices, (d) => item(`${d.device}: ${d.online ? strings.online : strings.offline}. ${d.words}`, d.online ? "" : "offline"));
  list(elements.notices, state.notices, (n) => item(`${view.clockText(n.at)} ${n.source}: ${n.words}${n.times > 1 ? ` (${n.times} times)` : ""}`));
  if (!state.store.writable) fail(strings.storeDown(state.store.words));
  drawColour();
  drawBooth();
}

// --- what the person does ----------------------------------------------------------------------

function fail(words) {
  say(elements.alert, words);
  elements.alert.hidden = words === "";
}

async function send(path, form, button) {
  if (button) button.disabled = true;
  fail("");
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(form),
    });
    const body = await answer.json();
    if (!answer.ok) fail(body.error);
    return answer.ok;
  } catch {
    fail(strings.lost);
    return false;
  } finally {
    if (button) button.disabled = false;
    await refresh();
  }
}

function onSubmit(form, act) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    await act(new FormData(form), form.querySelector("button"));
  });
}

function withName(act) {
  const person = localStorage.getItem("person") ?? elements.cautionsForm.elements.person.value.trim();
  if (person) act(person);
  else {
    fail(strings.nameFirst);
    elements.cautionsForm.elements.person.focus();
  }
}

onSubmit(elements.cautionsForm, (data, button) => {
  const person = data.get("person").trim();
  localStorage.setItem("person", person);
  return send("/api/cautions/read", { person }, button);
});

onSubmit(elements.targetForm, (data, button) => {
  const measure = data.get("measure") !== null;
  const lab = ["l", "a", "b"].map((name) => view.typedNumber(data.get(name)));
  if (!measure && lab.includes(null)) return fail(strings.typeLab);
  const tolerance = view.typedNumber(data.get("tolerance"));
  const form = { name: data.get("name"), measure };
  if (!measure) form.lab = lab;
  if (tolerance !== null) form.tolerance_de00 = tolerance;
  return send("/api/targets", form, button);
});

onSubmit(elements.batchForm, (data, button) => send("/api/batches", { name: data.get("name") }, button));
onSubmit(elements.additionForm, (data, button) =>
  send("/api/batches/additions", { paint: data.get("paint"), drops: Number(data.get("drops")) }, button),
);
onSubmit(elements.coatForm, (data, button) =>
  send("/api/coats", { piece: data.get("piece"), kind: data.get("kind") }, button),
);
elements.coatEnd.addEventListener("click", () => send(`/api/coats/${state.coat.id}/end`, {}, elements.coatEnd));
elements.measure.addEventListener("click", () => send("/api/swatches", {}, elements.measure));
elements.calibrateDark.addEventListener("click", () => send("/api/calibration/dark", {}, elements.calibrateDark));
elements.calibrateWhite.addEventListener("click", () => send("/api/calibration/white", {}, elements.calibrateWhite));
elements.calibrateGain.addEventListener("click", () => send("/api/calibration/gain", {}, elements.calibrateGain));

// --- live --------------------------------------------------------------------------------------

function takeState(fresh) {
  state = fresh;
  live = fresh.live;
  liveCame_ms = boothCame_ms = performance.now();
  drawState();
}

async function refresh() {
  try {
    takeState(await (await fetch("/api/bench")).json());
  } catch {
    setConnected(false);
  }
}

function setConnected(now) {
  connected = now;
  say(elements.connection, now ? strings.connected : strings.lost);
  elements.connection.classList.toggle("lost", !now);
  document.body.classList.toggle("lost", !now);
}

const stream = new EventSource("/api/live");
stream.addEventListener("open", () => setConnected(true));
stream.addEventListener("error", () => setConnected(false));
stream.addEventListener("state", (event) => takeState(JSON.parse(event.data)));
stream.addEventListener("colour", (event) => {
  live = JSON.parse(event.data);
  liveCame_ms = performance.now();
  drawColour();
});
stream.addEventListener("booth", (event) => {
  if (!state) return;
  state.booth = JSON.parse(event.data);
  boothCame_ms = performance.now();
  drawBooth();
});
setInterval(() => {
  drawColour();
  drawBooth();
}, 500);

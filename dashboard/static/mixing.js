// The mixing place: swatches, judgement, next addition, cup, readings.
import { announce } from "./announce.js";
import { onSubmit, post, press, run } from "./act.js";
import { bench, freshness, now_ms } from "./bench.js";
import { make, options, redraw, say, show, table } from "./dom.js";
import { drawPlane } from "./plane.js";
import { keepsUnit, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { settle, SILENT } from "./settle.js";
import { strings } from "./strings.js";
import * as view from "./view.js";
import { fill, many, millilitres, number, typedNumber, UNITS } from "./words.js";

const words = strings.mixing;
let spoken = SILENT;
let pouring = false;

function paint(element, screen) {
  const hex = screen?.hex ?? "";
  if (element.dataset.hex !== hex) {
    element.dataset.hex = hex;
    element.style.backgroundColor = hex;
    element.style.color = hex ? view.inkOn(hex) : "";
  }
  element.classList.toggle("empty", !screen);
  element.classList.toggle("out-of-gamut", Boolean(screen) && !screen.in_gamut);
}

// Called for each live reading: little work, no layout asked for.
export function drawLive() {
  const { state, live } = bench;
  if (!state) return;
  const { target } = state;
  const fresh = freshness(bench, now_ms());
  const calibrated = state.calibration.state === "ready";
  const judged = view.verdict(live, target, calibrated);
  elements.match.classList.toggle("stale", fresh.stale || !live);
  paint(elements.targetSwatch, target?.screen);
  paint(elements.liveSwatch, live?.screen);
  say(elements.de00, live && live.de00 !== null ? number(live.de00, 1) : strings.dash);
  say(elements.liveU95, live ? view.uncertainty(live) : "");
  elements.verdict.dataset.verdict = fresh.stale && judged.state !== "none" ? "old" : judged.state;
  say(elements.verdictMark, words.mark[judged.state]);
  say(elements.verdictWord, judged.word);
  say(elements.direction, judged.direction);
  say(elements.liveNote, view.liveAge(live, fresh));
  const warnings = view.liveWarnings(live, target);
  redraw(elements.liveWarnings, warnings, () => warnings.map((text) => make("li", {}, text)));
  ["L", "A", "B"].forEach((letter, at) => {
    say(elements[`target${letter}`], target ? number(target.lab[at], 1) : strings.dash);
    say(elements[`live${letter}`], live ? number(live.lab[at], 1) : strings.dash);
  });
  drawPlane(target, live, state.batch?.swatches ?? [], predicted(state));
  speak(judged, fresh);
}

function predicted(state) {
  const next = view.nextAddition(state);
  return next.kind === "pour" ? state.advice.predicted_lab_d65_10 : null;
}

function speak(judged, fresh) {
  const text = fresh.stale ? words.lost : [judged.word, judged.direction].filter(Boolean).join(": ");
  spoken = settle(spoken, fresh.connected ? text : "", now_ms());
  if (spoken.speak) announce(spoken.speak);
}

export function drawState() {
  const { state } = bench;
  drawFirst(state);
  const { target, batch } = state;
  say(elements.targetName, target?.name ?? words.target);
  const tolerance = target ? fill(words.tolerance, { tolerance: number(target.tolerance_de00, 1) }) : "";
  say(elements.whiteWords, [words.white[target?.white ?? "d65-10"], tolerance].filter(Boolean).join(", "));
  elements.measure.disabled = state.calibration.state !== "ready";
  const placed = state.calibration.placements ?? 0;
  say(elements.measureHint, placed ? many(strings.more.hint, placed) : words.measure_hint);
  say(elements.targetPlaced, placed ? many(strings.more.hint, placed) : "");
  drawNext(state);
  drawCup(batch);
  drawReadings(batch);
  drawLive();
}

function drawNext(state) {
  if (pouring) return;
  const next = view.nextAddition(state);
  const doses = next.kind === "pour" ? state.advice.add : [];
  redraw(elements.doses, doses, () => doses.map((dose) => make("li", {},
    make("strong", {}, view.drops(dose.drops)), ` ${dose.paint}`, dose.grams ? ` (${view.grams(dose.grams)})` : "")));
  say(elements.adviceWords, next.words);
  say(elements.adviceWhy, next.why ?? "");
  show(elements.poured, next.kind === "pour");
  show(elements.pouredHint, next.kind === "pour");
}

function drawCup(batch) {
  say(elements.cupWords, view.cupWords(batch));
  const contents = view.cupContents(batch);
  redraw(elements.cupContents, contents, () => contents.map((entry) => {
    const bar = make("span", { class: "bar", "aria-hidden": "true" });
    bar.style.width = `${(entry.share * 100).toFixed(1)}%`;
    const share = fill(words.share, { pct: number(entry.share * 100, 0) });
    return make("li", {}, make("span", {}, entry.paint), make("span", { class: "figure" }, `${view.drops(entry.drops)}, ${share}`), bar);
  }));
  const last = view.lastLine(batch);
  elements.undo.disabled = last === null;
  say(elements.undoWords, last ? fill(words.undo_words, { line: last }) : words.undo_none);
  const paints = bench.paints ?? [];
  redraw(elements.paintNames, paints, () => paints.map((name) => make("option", { value: name })));
  options(elements.whatIfForm.elements.paint, paints);
  options(elements.thinningForm.elements.reducer, bench.reducers ?? []);
  say(elements.thinningUnit, fill(words.amount, { unit: UNITS[prefs.volume] }));
}

function drawReadings(batch) {
  const swatches = [...(batch?.swatches ?? [])].reverse();
  redraw(elements.readings, swatches.map((s) => s.id), () => {
    if (swatches.length === 0) return [make("p", { class: "note" }, words.readings_none)];
    const rows = swatches.map((swatch, at) => {
      const row = view.readingRow(swatch);
      const chip = make("span", { class: "chip", "aria-hidden": "true" });
      if (row.hex) chip.style.backgroundColor = row.hex;
      return [`${swatches.length - at}: ${row.time}`, row.de, make("span", {}, chip, row.lab)];
    });
    return [table(words.readings, [words.time, words.off_by, "L* / a* / b*"], rows)];
  });
}

function drawFirst(state) {
  const steps = view.firstSteps(state);
  show(elements.first, steps !== null);
  show(elements.match, state.target !== null || steps === null);
  for (const { step, state: at } of steps ?? []) {
    const item = elements[`first${step[0].toUpperCase()}${step.slice(1)}`];
    item.dataset.state = at;
    say(item.querySelector(".step-state"), strings.first[at]);
    if (at === "now") item.setAttribute("aria-current", "step");
    else item.removeAttribute("aria-current");
  }
  const asked = steps?.find((entry) => entry.state === "now")?.step === "target";
  if (asked && elements.targetForm.parentElement !== elements.firstTarget) {
    elements.firstTarget.append(elements.targetForm);
  } else if (!asked && elements.targetForm.parentElement === elements.firstTarget) {
    elements.targetNew.append(elements.targetForm);
  }
}

// --- what the person does -------------------------------------------------------------------------

export function measure() {
  if (elements.measure.disabled || elements.measure.getAttribute("aria-disabled") === "true") return;
  run(elements.measure, async () => {
    say(elements.measure, strings.first.measuring);
    try {
      const swatch = await post("/api/swatches", {});
      const said = { de: number(swatch.de00, 1), words: bench.live?.plain ?? "" };
      announce(swatch.de00 === null ? words.measured_alone : fill(words.measured, said));
    } finally {
      say(elements.measure, words.measure);
    }
  });
}

// The whole dose in one act: a cut connection leaves no half of it in the ledger.
async function pour() {
  const doses = bench.state.advice.add.map(({ paint: name, drops }) => ({ paint: name, drops }));
  pouring = true;
  try {
    await post("/api/batches/additions", { doses, lines: bench.state.batch.lines });
    announce(words.stir_first);
  } finally {
    pouring = false;
  }
}

// By hand: drops as counted, or the grams the scale showed.
function readAddition(form) {
  const paint = form.elements.paint.value.trim();
  const [drops, grams] = [form.elements.drops.value, form.elements.grams.value].map((text) => text.trim());
  if (!grams) return readDrops(form);
  const weighed = typedNumber(grams);
  const faults = paint ? [] : [["paint", words.need_paint]];
  if (drops) faults.push(["grams", words.drops_or_grams]);
  else if (!(weighed > 0 && weighed <= 1000)) faults.push(["grams", words.need_grams]);
  return { paint, grams: weighed, faults };
}

function readDrops(form) {
  const paint = form.elements.paint.value.trim();
  const drops = typedNumber(form.elements.drops.value);
  const faults = [];
  if (!paint) faults.push(["paint", words.need_paint]);
  if (!Number.isInteger(drops) || drops < 1 || drops > 2000) faults.push(["drops", words.need_drops]);
  return { paint, drops, faults };
}

export function readTarget(form) {
  const field = form.elements;
  const faults = [];
  const asked = { name: field.name.value.trim() };
  if (!asked.name) faults.push(["name", words.need_name]);
  if (field.how.value === "measure") asked.measure = true;
  else {
    asked.lab = ["l", "a", "b"].map((name) => typedNumber(field[name].value));
    asked.white = field.white.value;
    ["l", "a", "b"].forEach((name, at) => {
      if (asked.lab[at] === null) faults.push([name, fill(words.need_lab, { which: `${name.toUpperCase()}*` })]);
    });
  }
  asked.tolerance_de00 = typedNumber(field.tolerance_de00.value);
  if (asked.tolerance_de00 === null) faults.push(["tolerance_de00", words.need_number]);
  return { asked, faults };
}

export function setUp() {
  press(elements.poured, pour);
  press(elements.undo, () => post("/api/batches/undo", {}));
  elements.measure.addEventListener("click", measure);
  const { targetForm, batchForm, additionForm, thinningForm, whatIfForm } = elements;
  targetForm.addEventListener("change", () => show(elements.targetLab, targetForm.elements.how.value === "lab"));
  onSubmit(targetForm, readTarget, async ({ asked }) => {
    await post("/api/targets", asked);
    targetForm.elements.name.value = "";
    elements.targetNew.open = false;
  });
  onSubmit(batchForm, (form) => {
    const name = form.elements.name.value.trim();
    return { name, faults: name ? [] : [["name", words.need_name]] };
  }, async ({ name }) => {
    await post("/api/batches", { name });
    batchForm.reset();
    elements.cupNew.open = false;
  });
  onSubmit(additionForm, readAddition, async ({ paint, drops, grams }) => {
    const amount = grams === undefined ? { drops } : { grams };
    await post("/api/batches/additions", { paint, ...amount, lines: bench.state.batch?.lines ?? null });
    for (const name of ["drops", "grams"]) additionForm.elements[name].value = "";
  });
  onSubmit(whatIfForm, readDrops, async ({ paint, drops }) => {
    const seen = await post("/api/mixing/what-if", { drops: { [paint]: drops } });
    say(elements.whatIfAnswer, view.whatIfWords(seen));
  });
  keepsUnit(thinningForm.elements.ml, "volume");
  onSubmit(thinningForm, (form) => {
    const amount = typedNumber(form.elements.ml.value);
    const reducer = form.elements.reducer.value;
    const faults = amount > 0 ? [] : [["ml", words.need_amount]];
    return { reducer, ml: millilitres(amount, prefs.volume), faults };
  }, async ({ reducer, ml }) => {
    await post("/api/batches/thinning", { reducer, ml });
    thinningForm.elements.ml.value = "";
  });
}

// The chart's patches, one after the other, and the check tile with its drift.
import { fault, onSubmit, post, Refused, run } from "./act.js";
import { announce } from "./announce.js";
import { bench } from "./bench.js";
import * as view from "./chart_view.js";
import { draw, make, redraw, say, show, table } from "./dom.js";
import { readTile } from "./instruments_view.js";
import { prefs, setPref } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { dayAndTime, fill, many, number, typedNumber } from "./words.js";

const words = strings.chart;
const skipped = new Set();
let chosen = null;
let tookPatches = null;
let checks = [];
let allChecks = [];
let checksOf = null;

const patches = () => view.keptChart(prefs.chart);

// A button says that it measures until it is answered; what is refused stands beside it.
async function measuring(button, place, act) {
  const label = button.textContent;
  say(place, "");
  const done = await run(button, async () => {
    say(button, strings.first.measuring);
    try {
      await act();
    } finally {
      say(button, label);
    }
  }, (refused) => say(place, refused.message));
  drawChart();
  return done;
}

export function drawChart() {
  const { calibration } = bench.state;
  const measured = calibration.patches ?? [];
  const { now, rows } = view.chartRows(patches(), measured, skipped, chosen);
  // The patches follow the tile: their part unfolds once when that was measured.
  if (calibration.takes_patches && tookPatches === false) elements.chart.open = true;
  tookPatches = Boolean(calibration.takes_patches);
  say(elements.chartWords, view.chartWords({ ...calibration, patches: measured }, patches()));
  show(elements.chartRun, Boolean(calibration.takes_patches) && patches().length > 0);
  show(elements.chartNow, now !== null);
  say(elements.chartNow, now ? fill(words.now, { name: now.name }) : "");
  show(elements.chartMeasure, now !== null);
  show(elements.chartSkip, now !== null);
  elements.chartFinish.disabled = measured.length === 0 || !calibration.unused_patches;
  if (!elements.chartFinish.classList.contains("busy")) say(elements.chartFinish, measured.length ? many(words.finish, measured.length) : words.finish_none);
  show(elements.chartAll, rows.length > 0);
  redraw(elements.chartList, [rows, calibration.takes_patches], () => rows.map((row) => patchItem(row, calibration)));
}

function patchItem({ name, state }, calibration) {
  const acts = { measured: words.take_out, skipped: words.choose, later: words.choose };
  const button = acts[state] && calibration.takes_patches ? make("button", {
    type: "button", class: "quiet", "data-key": name, "aria-label": fill(words.act_named, { act: acts[state], name }),
  }, acts[state]) : null;
  button?.addEventListener("click", () => {
    if (state === "measured") {
      measuring(button, elements.chartFault, () => post("/api/calibration/patches/undo", { name }));
      return;
    }
    chosen = name;
    skipped.delete(name);
    drawChart();
    elements.chartMeasure.focus();
  });
  return make("li", {}, make("span", {}, make("strong", {}, name), `: ${words.state[state]}`), button);
}

async function measurePatch() {
  const { now } = view.chartRows(patches(), bench.state.calibration.patches, skipped, chosen);
  if (!now) return;
  await measuring(elements.chartMeasure, elements.chartFault, async () => {
    const { notes } = await post("/api/calibration/patches", now);
    chosen = null;
    announce([fill(words.patch_done, { name: now.name }), ...notes].join(" "));
  });
}

function skipPatch() {
  const { now } = view.chartRows(patches(), bench.state.calibration.patches, skipped, chosen);
  if (!now) return;
  skipped.add(now.name);
  chosen = null;
  say(elements.chartFault, "");
  drawChart();
}

function keep(list) {
  setPref("chart", JSON.stringify(list));
  skipped.clear();
  chosen = null;
  drawChart();
}

// Puts patches on the list, in the place of those of the same names; the first of them comes next.
export function putOnList(added, field) {
  const most = bench.state?.calibration.patches_max ?? 24;
  const others = patches().filter((patch) => !added.some(({ name }) => name === patch.name));
  const n = others.length + added.length;
  if (n > most) throw new Refused(fill(words.too_many, { n, most }), field);
  keep([...others, ...added]);
  chosen = added[0].name;
  drawChart();
}

function readPatch(form) {
  const field = form.elements;
  const name = field.name.value.trim();
  const faults = name ? [] : [["name", strings.mixing.need_name]];
  if (field.how.value === "lab") {
    const lab = ["l", "a", "b"].map((key) => typedNumber(field[key].value));
    ["l", "a", "b"].forEach((key, at) => {
      if (lab[at] === null) faults.push([key, fill(strings.mixing.need_lab, { which: `${key.toUpperCase()}*` })]);
    });
    const wrong = faults.length ? "" : view.labFault(lab);
    if (wrong) faults.push(["l", wrong]);
    return { patch: { name, lab_d50_2: lab }, faults };
  }
  const { wavelength_nm = [], reflectance = [], words: wrong = "" } = readTile(field.spectrum.value);
  if (wrong || wavelength_nm.length === 0) faults.push(["spectrum", wrong || words.need_spectrum]);
  return { patch: { name, wavelength_nm, reflectance }, faults };
}

function setUpForms() {
  const { chartForm, patchForm } = elements;
  onSubmit(chartForm, (form) => {
    const read = view.readChart(form.elements.chart.value);
    const most = bench.state?.calibration.patches_max ?? 24;
    const wrong = read.words ?? (read.patches.length > most ? fill(words.too_many, { n: read.patches.length, most }) : "");
    return { list: read.patches, faults: wrong ? [["chart", wrong]] : [] };
  }, async ({ list }) => {
    keep(list);
    say(elements.chartKept, many(words.kept, list.length));
  });
  patchForm.addEventListener("change", () => {
    const lab = patchForm.elements.how.value === "lab";
    show(elements.patchLab, lab);
    show(elements.patchSpectrum, !lab);
  });
  onSubmit(patchForm, readPatch, async ({ patch }) => {
    putOnList([patch], "name");
    say(elements.patchKept, fill(words.added, { name: patch.name }));
    for (const key of ["name", "l", "a", "b", "spectrum"]) patchForm.elements[key].value = "";
  });
}

// --- the check tile ---------------------------------------------------------------------------------

export async function refreshChecks() {
  try {
    const ever = elements.checkEver.checked;
    const answers = await Promise.all(["", ...(ever ? ["?ever=true"] : [])].map((query) => fetch(`/api/calibration/checks${query}`)));
    if (answers.some((answer) => !answer.ok)) return;
    [checks, allChecks = []] = await Promise.all(answers.map((answer) => answer.json()));
    checksOf = bench.state?.calibration.at ?? null;
    drawChecks();
  } catch {
    // the connection line says so
  }
}

export function drawChecks() {
  const { calibration } = bench.state;
  if (calibration.at !== checksOf) {
    checksOf = calibration.at;
    refreshChecks();
  }
  const allowed = calibration.check_allowed_de00 ?? 0.7;
  const last = checks.at(-1);
  const verdict = last ? view.checkVerdict(last, allowed) : null;
  elements.checkForm.querySelector("button").disabled = calibration.state !== "ready";
  say(elements.checkWords, verdict ? verdict.words : "");
  elements.checkWords.dataset.state = verdict?.state ?? "none";
  const ever = elements.checkEver.checked;
  const shown = ever ? allChecks : checks;
  say(elements.checkSummary, view.checkSummary(shown, allowed, ever));
  show(elements.checkFigure, shown.length > 1);
  redraw(elements.checkChart, [shown, allowed], () => checkShapes(shown, allowed));
  redraw(elements.checkTable, [shown, allowed], () => (shown.length === 0 ? [] : [table(strings.check.title, strings.check.heads,
    [...shown].reverse().map((check) => [dayAndTime(check.at), check.name, check.de00 === null ? strings.check.is_reference : number(check.de00, 2)]))]));
}

function checkShapes(shown, allowed) {
  const box = { left: 40, right: 590, top: 12, bottom: 150 };
  const { limit, points } = view.checkPoints(shown, allowed, box);
  return [
    draw("path", { d: `M${box.left} ${limit.toFixed(1)}H${box.right}`, class: "limit" }),
    draw("text", { x: box.left, y: limit - 6 }, fill(strings.check.limit, { allowed: number(allowed, 1) })),
    draw("path", { d: `M${box.left} ${box.bottom}H${box.right}`, class: "ground" }),
    ...points.filter(({ begins }) => begins).map(({ x }) => draw("path", { d: `M${x.toFixed(1)} ${box.top}V${box.bottom}`, class: "ground" })),
    draw("path", { d: view.checkLine(points), class: "line s0" }),
    ...points.map(({ x, y, moved }) => (moved
      ? draw("path", { d: `M${x - 8} ${y - 8}L${x + 8} ${y + 8}M${x + 8} ${y - 8}L${x - 8} ${y + 8}`, class: "moved" })
      : draw("circle", { cx: x, cy: y, r: 6, class: "held" }))),
  ];
}

function setUpCheck() {
  const { checkForm } = elements;
  elements.checkEver.addEventListener("change", refreshChecks);
  onSubmit(checkForm, (form) => {
    const name = form.elements.name.value.trim();
    return { name, faults: name ? [] : [["name", strings.mixing.need_name]] };
  }, async ({ name }) => {
    const button = checkForm.querySelector("button");
    say(button, strings.first.measuring);
    try {
      await post("/api/calibration/check", { name });
      await refreshChecks();
    } finally {
      say(button, strings.check.measure);
    }
  });
}

export function setUp() {
  elements.chartMeasure.addEventListener("click", measurePatch);
  elements.chartSkip.addEventListener("click", skipPatch);
  elements.chartFinish.addEventListener("click", () => measuring(elements.chartFinish, elements.chartFault, async () => {
    await post("/api/calibration/finish", {});
    announce(words.finished);
  }));
  setUpForms();
  setUpCheck();
  for (const form of [elements.chartForm, elements.patchForm]) form.addEventListener("input", (event) => fault(event.target, ""));
}

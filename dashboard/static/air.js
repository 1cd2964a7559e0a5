// What is breathed: the assessment of the coats to come, the booth's set-up, the cartridge and its hours.
import { fieldOf, onSubmit, post } from "./act.js";
import * as view from "./air_view.js";
import { announce } from "./announce.js";
import { bench } from "./bench.js";
import { make, redraw, say, show, table } from "./dom.js";
import { keepsUnit, onPrefs, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { fill, ML_PER_FL_OZ, number, UNITS } from "./words.js";

const words = strings.air;
const { airForm, boothForm, cartridgeForm } = elements;
let asked = {};
let asking = "";
let filled = null;
const touched = new Set();

// --- the assessment ---------------------------------------------------------------------------------

// What the answer rests on besides the form: a new answer is due when one of these changed.
function basis(state) {
  const { ventilation, batch } = state;
  return JSON.stringify([asked, batch?.id, batch?.lines, ventilation.booth, ventilation.cartridge?.id, ventilation.fan, ventilation.refusals]);
}

async function assess(key) {
  asking = key;
  try {
    const answer = await fetch(`/api/assessment?${new URLSearchParams(asked)}`);
    const body = await answer.json();
    if (key !== asking) return; // a newer question is on its way
    if (answer.ok) drawAnswer(body);
    else drawNone(body.error);
  } catch {
    if (key !== asking) return;
    asking = "";
    drawNone(strings.link.failed);
  }
}

// An old answer must not stand for a new question.
function drawNone(why) {
  redraw(elements.airAnswer, ["none", why], () => [make("p", { class: "error" }, fill(words.no_answer, { why }))]);
}

function drawAnswer(answer) {
  redraw(elements.airAnswer, answer, () => [
    levelLine(answer, "words"),
    make("p", {}, answer.words),
    ...questions(answer.asks ?? []),
    ...view.grouped(answer.findings).map(group),
    ...(answer.rests_on?.length ? [fold(words.rests_on,
      make("dl", { class: "facts" }, ...answer.rests_on.map((one) => make("div", {}, make("dt", {}, one.title), make("dd", {}, one.words)))))] : []),
    ...list("h3", strings.cautions.title, (answer.cautions ?? []).map((caution) => caution.words), "ul"),
    ...list("h3", words.authority, answer.order_of_authority ?? [], "ol"),
  ]);
}

// What stops or warns stands open; the rest is named in one line and unfolds.
function group({ open, title, findings }) {
  const cards = make("ul", { class: "cards findings" }, ...findings.map(findingItem));
  return open ? cards : fold(title, cards);
}

function fold(title, within) {
  return make("details", {}, make("summary", {}, title), within);
}

function levelLine(entry, className) {
  const { flag, mark, word } = view.levelOf(entry);
  return make("p", { class: `level ${flag} ${className}` }, make("span", { "aria-hidden": "true" }, `${mark} `), word);
}

function questions(asks) {
  return asks.length ? [make("div", { class: "boxed" }, make("h3", {}, words.asks), make("ul", { class: "plain" }, ...asks.map((ask) => make("li", {}, ask))))] : [];
}

function list(level, title, entries, tag) {
  return entries.length ? [make(level, {}, title), make(tag, { class: "plain" }, ...entries.map((entry) => make("li", {}, entry)))] : [];
}

function findingItem(finding) {
  const { heads, rows } = view.figures(finding.rows ?? []);
  const sources = view.sourcesOf(finding);
  const small = (entries) => entries.map((entry) => make("p", { class: "note" }, entry));
  return make("li", {},
    make("h3", {}, finding.title),
    levelLine(finding, ""),
    make("p", {}, finding.words),
    rows.length ? table(finding.title, heads, rows) : null,
    ...(finding.would_help?.length ? [make("p", {}, fill(strings.flags.would_help, { words: finding.would_help.join("; ") }))] : []),
    ...small((finding.assumptions ?? []).map((one) => fill(words.assumed, { words: one }))),
    sources.length ? make("details", {}, make("summary", { "aria-label": fill(words.sources_named, { title: finding.title }) }, words.sources),
      make("ul", { class: "plain" }, ...sources.map((source) => make("li", {}, source.address
        ? make("a", { href: source.address, target: "_blank", rel: "noopener noreferrer" }, source.words) : source.words)))) : null);
}

// The likely amounts stand in the form until a person types their own.
function fillAsked(state) {
  const likely = view.likelyAsked(state.coats);
  if (prefs.volume === "floz" && likely.sprayed_ml) likely.sprayed_ml = number(Number(likely.sprayed_ml) / ML_PER_FL_OZ, 3);
  for (const [name, value] of Object.entries(likely)) if (!touched.has(name)) airForm.elements[name].value = value;
  say(elements.airSprayedUnit, fill(words.sprayed, { unit: UNITS[prefs.volume] }));
}

const typed = (form) => Object.fromEntries(new FormData(form));
const readAsked = () => view.readAsked(typed(airForm), prefs.volume);

// --- booth and cartridge ------------------------------------------------------------------------------

function drawBooth({ booth }) {
  say(elements.boothNow, view.boothWords(booth));
  const key = JSON.stringify(booth);
  if (key === filled) return;
  filled = key;
  if (booth) for (const [name, value] of Object.entries(view.boothFields(booth))) boothForm.elements[name].value = value;
  drawFlow();
}

// One way of knowing the flow at a time: the others' fields are put away.
function drawFlow() {
  for (const name of ["flow_m3h", "face_m_s", "rating_m3h"]) {
    show(boothForm.elements[name].closest("label"), boothForm.elements.flow_by.value === name);
  }
}

let logOf = null;

async function drawCartridge({ cartridge }) {
  say(elements.cartridgeNow, view.cartridgeWords(cartridge));
  const key = cartridge ? `${cartridge.id} ${cartridge.hours_used}` : "none";
  if (key === logOf) return;
  logOf = key;
  let rows = [];
  if (cartridge) {
    try {
      const answer = await fetch("/api/cartridges/log");
      if (!answer.ok) throw new Error(answer.statusText);
      rows = view.cartridgeRows((await answer.json()).log);
    } catch {
      logOf = null;
    }
  }
  redraw(elements.cartridgeLog, rows, () => rows.map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, value))));
}

// A number that may be in a wrong unit is asked about: one tick sends it as it stands.
function confirmed() {
  return [...boothForm.querySelectorAll(".confirm input:checked")].map((tick) => tick.value);
}

function offerConfirmation(fault) {
  const field = fieldOf(boothForm, fault);
  if (!field || !fault.message.includes("?")) return;
  const label = field.closest("label");
  const id = `confirm-${field.name}`;
  document.getElementById(id)?.closest("label").remove();
  const tick = make("input", { type: "checkbox", id, value: field.name });
  fault.message = fault.message.replace(/If it is right, send it again.*$/, words.confirm_how);
  label.after(make("label", { class: "check confirm" }, tick, fill(words.confirm, { value: field.value })));
}

function clearConfirmations() {
  for (const tick of boothForm.querySelectorAll(".confirm")) tick.remove();
}

export function drawAir() {
  const { state } = bench;
  fillAsked(state);
  if (!touched.size) ({ asked } = readAsked());
  const key = basis(state);
  if (key !== asking) assess(key);
  drawBooth(state.ventilation);
  drawCartridge(state.ventilation);
}

export function setUp() {
  airForm.addEventListener("input", ({ target }) => touched.add(target.name));
  onSubmit(airForm, readAsked, async (read) => {
    ({ asked } = read);
    for (const name of ["sprayed_ml", "minutes", "coats"]) touched.add(name);
    await assess(basis(bench.state));
    announce(elements.airAnswer.firstElementChild?.textContent ?? "");
  });
  boothForm.addEventListener("change", drawFlow);
  // A number that was typed anew is asked about anew.
  boothForm.addEventListener("input", ({ target }) => document.getElementById(`confirm-${target.name}`)?.closest("label").remove());
  onSubmit(boothForm, () => view.readBooth(typed(boothForm)), async (read) => {
    const sure = confirmed();
    try {
      await post("/api/booth", { ...read.asked, ...(sure.length && { confirmed: sure }) });
    } catch (fault) {
      offerConfirmation(fault);
      throw fault;
    }
    clearConfirmations();
    announce(words.booth_kept);
  });
  onSubmit(cartridgeForm, (form) => {
    const given = { name: form.elements.name.value.trim(), type: form.elements.type.value.trim() };
    const faults = [["name", words.need.cartridge_name], ["type", words.need.cartridge_type]].filter(([name]) => !given[name]);
    return { given, faults };
  }, async ({ given }) => {
    await post("/api/cartridges", given);
    cartridgeForm.reset();
  });
  drawFlow();
  keepsUnit(airForm.elements.sprayed_ml, "volume");
  onPrefs((name) => name === "volume" && bench.state && drawAir());
}

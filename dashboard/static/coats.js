// The coats place: list, filter, one coat with its conditions to read and to print.
import { bench } from "./bench.js";
import * as view from "./coats_view.js";
import { make, redraw, say, show, table } from "./dom.js";
import { held, onFindings } from "./findings_held.js";
import { findingTitle } from "./findings_view.js";
import { prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { dayAndTime, fill, many } from "./words.js";

const words = strings.coats;
let coats = [];
let known = "";
let chosen = [];
let opened = null;
const listeners = [];

// Who comes late is told at once of the coats that are known.
export function onCoats(listener) {
  listeners.push(listener);
  if (coats.length > 0) listener();
}

export const allCoats = () => coats;

// Asked for anew only when a coat came, ended or was changed.
export async function keepUp() {
  const key = JSON.stringify(bench.state.coats.map((coat) => [coat.id, coat.end, coat.note]));
  if (key === known) return;
  known = key;
  try {
    const answer = await fetch("/api/coats?limit=60&brief=true");
    if (!answer.ok) throw new Error(answer.statusText);
    coats = await answer.json();
    for (const listener of listeners) listener();
  } catch {
    known = "";
  }
}

export function drawCoats() {
  const found = view.filtered(coats, elements.coatsFilter.value, elements.coatsOnly.value, held.findings);
  say(elements.coatsCount, coats.length === 0 ? words.none : many(words.shown, found.length));
  redraw(elements.coatsList, [found.map((c) => [c.id, c.end]), chosen, held.findings, prefs], () => found.map(card));
  elements.coatsCompare.setAttribute("aria-disabled", String(chosen.length !== 2));
  const one = coats.find((coat) => coat.id === opened) ?? null;
  show(elements.coatsListView, one === null);
  show(elements.coatsOneView, one !== null);
  if (one) redraw(elements.coatsOne, [one, prefs, held.findings], () => report(one));
}

function card(coat) {
  const tick = make("input", { type: "checkbox", "data-key": `tick-${coat.id}`, "aria-label": fill(words.choose_named, { name: `${view.title(coat)}, ${view.span(coat)}` }) });
  tick.checked = chosen.includes(coat.id);
  tick.addEventListener("change", () => choose(coat.id, tick.checked));
  const margin = view.conditionsOf(coat).find((c) => c.channel === "margin_to_dew_point");
  const brief = margin ? `${words.name.margin_to_dew_point}: ${view.range(margin, prefs)}` : "";
  return make("li", {},
    make("strong", {}, view.title(coat)),
    make("span", {}, view.span(coat)),
    make("span", { class: "note" }, [brief, flagsBrief(coat)].filter(Boolean).join(". ")),
    ...findingsOf(coat).map((words_) => make("span", {}, words_)),
    make("div", { class: "row" },
      make("a", { class: "button", href: `#coats/${coat.id}`, "aria-label": fill(words.open_named, { name: `${view.title(coat)}, ${view.span(coat)}` }) }, words.open),
      make("label", { class: "check" }, tick, words.choose)));
}

function findingsOf(coat) {
  const found = held.findings.filter((finding) => finding.coat === coat.id);
  return found.map((finding) => fill(words.finding, { words: [findingTitle(finding, ""), finding.place].filter(Boolean).join(", ") }));
}

function flagsBrief(coat) {
  const flags = coat.conditions?.flags ?? [];
  return flags.map((flag) => view.flagRow(flag).join(" ")).join("; ");
}

function choose(id, on) {
  chosen = on ? [...chosen.filter((one) => one !== id), id].slice(-2) : chosen.filter((one) => one !== id);
  drawCoats();
}

function report(coat) {
  const device = view.chosenDevice(coat.conditions);
  const others = view.otherDevices(coat);
  const rows = view.conditionsOf(coat).map((channel) => view.conditionRow(channel, prefs));
  const flags = (coat.conditions?.flags ?? []).map(view.flagRow);
  const { cautions } = bench.state;
  const strips = make("div", { class: "column" });
  if (coat.end) import("./coat_strips.js").then(({ drawCoatStrips }) => drawCoatStrips(strips, coat.id, () => opened === coat.id));
  const link = (href, text) => make("a", { class: "button", href, target: "_blank", rel: "noopener" }, text);
  const piece = `/api/pieces/${encodeURIComponent(coat.piece)}/report`;
  return [
    make("h2", {}, view.title(coat)),
    make("dl", { class: "facts" }, ...view.facts(coat, prefs.volume).map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, value)))),
    rows.length === 0 ? make("p", {}, words.conditions_none)
      : table(words.conditions, [words.channel, words.mean, words.range, words.worst, words.gap], rows),
    device ? make("p", { class: "note" }, fill(words.of_device, { device }),
      others.length ? ` ${fill(words.other_devices, { devices: others.join(", ") })}` : "") : null,
    flags.length === 0 ? make("p", {}, `${words.flags}: ${words.flags_none}`)
      : make("p", {}, `${words.flags}: ${flags.map((row) => row.join(", ")).join("; ")}.`),
    ...findingsOf(coat).map((text) => make("p", {}, make("strong", {}, text))),
    coat.note ? make("p", {}, coat.note) : null,
    strips,
    make("div", { class: "print-only" },
      make("h3", {}, strings.cautions.title),
      make("ul", {}, ...cautions.list.map((caution) => make("li", {}, caution.words)))),
    make("div", { class: "row no-print" },
      coat.end ? make("a", { class: "button", href: `#looking-back/finding/${coat.id}` }, words.enter_finding) : null,
      link(piece, strings.back.report), link(`${piece}.pdf?paper=a4`, words.pdf_a4), link(`${piece}.pdf?paper=letter`, words.pdf_letter)),
    make("p", { class: "note" }, fill(words.report_line, { bench: bench.state.bench, time: dayAndTime(bench.state.at) })),
  ].filter(Boolean);
}

export function open(id) {
  opened = id ?? null;
  if (bench.state) drawCoats();
}

export function setUp() {
  elements.coatsFilter.addEventListener("input", drawCoats);
  elements.coatsOnly.addEventListener("change", drawCoats);
  elements.coatsPrint.addEventListener("click", () => print());
  elements.coatsCompare.addEventListener("click", () => {
    if (chosen.length === 2) location.hash = `#looking-back/${chosen.join("/")}`;
  });
  onCoats(drawCoats);
  onFindings(drawCoats);
}

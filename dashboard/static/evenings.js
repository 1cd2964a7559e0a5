// Looking back over all coats: calendar of evenings, a good evening, what goes with what, drift of colour.
import { bench } from "./bench.js";
import { onCoats } from "./coats.js";
import { make, redraw, say, show, table } from "./dom.js";
import * as view from "./evenings_view.js";
import { onFindings } from "./findings_held.js";
import { onPrefs, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { fill, many } from "./words.js";

const words = strings.evenings;
const FIRST_MONTHS = 3;
let over = null;
let shownMonths = FIRST_MONTHS;
let stale = true;

// Asked for when the place is looked at and something was put on record since.
export async function refresh() {
  if (!stale) return;
  stale = false;
  try {
    const answer = await fetch("/api/review/over-time");
    if (!answer.ok) throw new Error(answer.statusText);
    over = await answer.json();
  } catch {
    stale = true;
    return; // the connection line says so; the next visit asks again
  }
  drawEvenings();
}

function drawEvenings() {
  if (!over) return;
  const months = view.months(over.calendar);
  show(elements.eveningsNone, months.length === 0);
  show(elements.eveningsLegend, months.length > 0);
  say(elements.eveningsUnit, fill(words.legend, { unit: prefs.temperature === "f" ? "°F" : "K" }));
  redraw(elements.calendar, [months.slice(0, shownMonths), prefs.temperature], () => months.slice(0, shownMonths).map(month));
  show(elements.eveningsMore, months.length > shownMonths);
  say(elements.goodWords, over.good_evening.words);
  const good = view.goodRows(over.good_evening, view.quantityName);
  redraw(elements.goodTable, good, () => (good.length ? [table(words.good, [strings.coats.channel, words.range, words.coats_head], good)] : []));
  drawAssociations();
  redraw(elements.driftList, over.drift, () => over.drift.map(drift));
  show(elements.driftNone, over.drift.length === 0);
}

function drawAssociations() {
  say(elements.associationWords, fill(words.looked, { coats: many(words.coats, over.coats), bad: over.with_finding, tests: over.tests }));
  const rows = over.associations.map((one) => view.associationRow(one, view.quantityName));
  redraw(elements.associationTable, rows, () => (rows.length
    ? [table(words.goes_with, [strings.back.defect, strings.coats.channel, words.with_it, words.without, words.coats_head, words.sure], rows)]
    : [make("p", {}, over.tests ? words.goes_with_none : words.goes_with_few)]));
}

function month({ month: at, weeks }) {
  const name = new Date(`${at}-01T12:00Z`).toLocaleDateString([], { month: "long", year: "numeric", timeZone: "UTC" });
  return make("table", { class: "month" },
    make("caption", {}, name),
    make("thead", {}, make("tr", {}, ...words.days.map((day) => make("th", { scope: "col", abbr: day }, day.slice(0, 2))))),
    make("tbody", {}, ...weeks.map((week) => make("tr", {}, ...week.map(day)))));
}

function day(cell) {
  if (!cell) return make("td", {});
  if (!cell.evening) return make("td", { class: "no-coat" }, String(cell.day));
  const { level, mark, shown, words: spoken } = view.eveningMark(cell.evening, prefs);
  const finding = cell.evening.findings.length ? make("span", { "aria-hidden": "true" }, words.finding_mark) : null;
  return make("td", { class: `evening ${level}`, title: spoken },
    make("span", { class: "day" }, String(cell.day), finding),
    make("span", { class: "margin", "aria-hidden": "true" }, `${mark} ${shown}`), make("span", { class: "heard" }, `: ${spoken}`));
}

function drift(one) {
  return make("li", {}, make("span", {}, one.words),
    make("details", {}, make("summary", {}, fill(words.drift_table, { name: one.name })),
      table(one.name, [words.cup, "L* / a* / b*", words.to_first, words.to_target], one.batches.map(view.driftRow))));
}

async function drawFlags() {
  if (!elements.flagsPast.open) return;
  try {
    const answer = await fetch("/api/flags?limit=100");
    if (!answer.ok) throw new Error(answer.statusText);
    const rows = (await answer.json()).map(view.flagRow);
    const heads = [words.flag_raised, words.flag_words, words.flag_minutes, words.flag_seen];
    redraw(elements.flagsPastTable, rows, () => [rows.length ? table(words.flags_title, heads, rows) : make("p", {}, words.flags_none)]);
  } catch {
    redraw(elements.flagsPastTable, "none", () => [make("p", { class: "error" }, strings.link.failed)]);
  }
}

export function setUp() {
  elements.flagsPast.addEventListener("toggle", drawFlags);
  elements.eveningsMore.addEventListener("click", () => {
    shownMonths += 12;
    drawEvenings();
  });
  const again = () => {
    stale = true;
    if (bench.state && !elements.lookingBackPlace.hidden) refresh();
  };
  onCoats(again);
  onFindings(again);
  onPrefs(drawEvenings);
}

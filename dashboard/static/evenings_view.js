// The evenings on record: a calendar by margin, what a good one was, what goes with which finding.  Pure.
import { marginLevel } from "./booth_view.js";
import { figure } from "./findings_view.js";
import { strings } from "./strings.js";
import { age, dayAndTime, difference, fill, known, many, number } from "./words.js";

const say = strings.evenings;

// Months, newest first, each as weeks of seven days (Monday first); a day without coats is null in `evening`.
export function months(calendar) {
  const byMonth = new Map();
  for (const evening of calendar) {
    const month = evening.evening.slice(0, 7);
    if (!byMonth.has(month)) byMonth.set(month, new Map());
    byMonth.get(month).set(Number(evening.evening.slice(8, 10)), evening);
  }
  return [...byMonth.keys()].sort().reverse().map((month) => ({ month, weeks: weeksOf(month, byMonth.get(month)) }));
}

function weeksOf(month, evenings) {
  const [year, at] = month.split("-").map(Number);
  const days = new Date(Date.UTC(year, at, 0)).getUTCDate();
  const before = (new Date(Date.UTC(year, at - 1, 1)).getUTCDay() + 6) % 7;
  const cells = [...Array(before).fill(null), ...Array.from({ length: days }, (_, day) => ({ day: day + 1, evening: evenings.get(day + 1) ?? null }))];
  while (cells.length % 7) cells.push(null);
  return Array.from({ length: cells.length / 7 }, (_, week) => cells.slice(7 * week, 7 * week + 7));
}

// An evening's margin as level, shape and words; one without readings is never a good one.
export function eveningMark(evening, prefs) {
  const margin = evening.worst_margin_k;
  const level = marginLevel(margin);
  const mark = { none: say.mark_none, ...strings.flags.mark }[level];
  const shown = known(margin) ? difference(margin, prefs.temperature) : strings.dash;
  const words = fill(say.cell, {
    margin: known(margin) ? fill(say.cell_margin, { margin: shown, of: strings.coats.name[evening.margin_of] ?? evening.margin_of }) : say.cell_unknown,
    level: say.level[level], coats: many(say.coats, evening.coats),
    findings: evening.findings.length ? evening.findings.join(", ") : say.no_finding,
  });
  // The unit stands in the legend: seven days have to fit beside each other on a telephone.
  return { level, mark, shown: shown.split(" ")[0], words };
}

export function goodRows(good, names) {
  return good.ranges.map((range) => [
    names(range.quantity), `${figure(range.low, "")} – ${figure(range.high, range.unit)}`, String(range.n),
  ]);
}

export function associationRow(one, names) {
  return [
    one.defect.replaceAll("_", " "), names(one.quantity), figure(one.bad_median, one.unit), figure(one.good_median, one.unit),
    fill(say.of_coats, { bad: one.n_bad, good: one.n_good }),
    one.found ? say.together : fill(say.chance, { p: number(one.p_adjusted, 2) }),
  ];
}

export const quantityName = (quantity) => strings.coats.name[quantity] ?? quantity.replaceAll("_", " ");

export function driftRow(batch) {
  const lab = batch.lab.map((value) => number(value, 1)).join(" / ");
  return [batch.name, lab, number(batch.de00_to_first, 1), number(batch.de00_to_target, 1)];
}

// A flag of a past evening; one that nobody acknowledged says so.
export function flagRow(flag) {
  const stood = flag.cleared ? age(Date.parse(flag.cleared) - Date.parse(flag.raised)) : say.flag_standing;
  const level = strings.flags.level[flag.level] ?? flag.level;
  return [
    dayAndTime(flag.raised), `${strings.flags.mark[flag.level] ?? "?"} ${level}: ${flag.title}`, stood,
    flag.acknowledged_by ?? say.flag_unseen,
  ];
}

// --- a coat's strip beside the usual range of the good coats -------------------------------------------

export function stripSummary(channel, show) {
  const values = channel.mean.filter(known);
  const name = channel.words;
  if (values.length === 0) return fill(say.strip_empty, { name });
  const words = fill(say.strip, { name, low: show(Math.min(...values)), high: show(Math.max(...values)) });
  if (!known(channel.usual_low)) return `${words} ${say.strip_no_usual}`;
  const usual = fill(say.strip_usual, { low: show(channel.usual_low), high: show(channel.usual_high), n: channel.n_usual });
  const outside = values.filter((v) => v < channel.usual_low || v > channel.usual_high).length / values.length;
  const share = outside === 0 ? say.strip_inside : fill(say.strip_outside, { pct: number(100 * outside, 0) });
  return `${words} ${usual} ${share}`;
}

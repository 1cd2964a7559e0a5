// Findings and their reviews in words.  Pure.
import { strings } from "./strings.js";
import { dayAndTime, fill, known, number } from "./words.js";

const say = strings.back;

export function findingTitle(finding, pieceName) {
  return [finding.name, finding.severity, pieceName].filter(Boolean).join(", ");
}

export function findingNote(finding) {
  return [dayAndTime(finding.at), finding.place, finding.note, finding.person].filter(Boolean).join("; ");
}

// A value with so many digits as its size asks for.
export function figure(value, unit) {
  if (!known(value)) return strings.dash;
  const places = Math.abs(value) >= 100 ? 0 : Math.abs(value) >= 10 ? 1 : 2;
  const shown = { Cel: "°C" }[unit] ?? unit ?? "";
  return `${number(value, places)} ${shown}`.trim();
}

export function evidenceRow(evidence) {
  const usual = known(evidence.usual_low) && known(evidence.usual_high)
    ? fill(say.usual_range, { low: figure(evidence.usual_low, ""), high: figure(evidence.usual_high, evidence.unit), n: evidence.n_usual })
    : say.usual_none;
  return [(evidence.quantity ?? evidence.channel).replaceAll("_", " "), figure(evidence.this, evidence.unit), usual];
}

// The reasons of a cause that are there to be read.
export function reasons(ranked) {
  const list = (words) => (Array.isArray(words) ? words : [words]).filter(Boolean).join("; ");
  return [
    list(ranked.for) && fill(say.speaks_for, { words: list(ranked.for) }),
    list(ranked.against) && fill(say.speaks_against, { words: list(ranked.against) }),
    ranked.change && fill(say.change, { words: ranked.change }),
  ].filter(Boolean);
}

export function readFinding(typed, coat) {
  const faults = [];
  if (!coat) faults.push(["coat", say.need_coat]);
  if (!typed.defect) faults.push(["defect", say.need_defect]);
  const asked = { piece: coat?.piece, coat: coat?.id, defect: typed.defect, severity: typed.severity, place: typed.place.trim(), note: typed.note.trim() };
  return { asked, faults };
}

// What is breathed, the booth and the cartridge, from the bench's JSON to words; forms read.  Pure.
import { strings } from "./strings.js";
import { dayAndTime, fill, known, many, millilitres, number, typedNumber } from "./words.js";

const say = strings.air;

// --- the assessment ---------------------------------------------------------------------------------

// Level as a shape, a word and a class; what the page does not know is graver, never milder.
export function levelOf(entry) {
  const flag = entry.flag_level in strings.flags.level ? entry.flag_level : "unknown";
  return { flag, mark: strings.flags.mark[flag], word: entry.level };
}

export function limitWords(limit) {
  if (!limit) return say.no_limit;
  return limit.words || `${number(limit.value, places(limit.value))} ${limit.unit}`;
}

export function shareWords(share) {
  if (!known(share)) return strings.dash;
  const pct = share * 100;
  return pct > 0 && pct < 1 ? say.share_below : fill(say.share, { pct: number(pct, 0) });
}

const places = (value) => (Math.abs(value) >= 100 ? 0 : Math.abs(value) >= 10 ? 1 : 2);

export function figureRow(row) {
  return [row.title, row.text ?? strings.dash, limitWords(row.limit), shareWords(row.share)];
}

// Where no figure has a limit (grams, minutes) no column stands for one.
export function figures(rows) {
  const limited = rows.some((row) => row.limit);
  const heads = [say.what, say.figure, say.limit, say.of_limit];
  return { heads: limited ? heads : heads.slice(0, 2), rows: rows.map((row) => figureRow(row).slice(0, limited ? 4 : 2)) };
}

// Each source once, those of the rows' limits too.
export function sourcesOf(finding) {
  const all = [...(finding.sources ?? []), ...(finding.rows ?? []).map((row) => row.limit?.source)];
  const known_ = new Map(all.filter(Boolean).map((source) => [source.key, source]));
  return [...known_.values()].map((source) => ({
    address: /^https?:/.test(source.address ?? "") ? source.address : null,
    words: source.mark === "memory" ? `${source.title} ${say.from_memory}` : source.title,
  }));
}

// Grave findings one by one; what cannot be judged and what gave no reason to stop, each in a fold
// whose line names them all.  What the page does not know stands open.
export function grouped(findings) {
  const folds = { unknown: say.cannot, note: say.no_reason };
  const open = findings.filter((finding) => !(finding.flag_level in folds));
  const rest = Object.entries(folds).map(([level, title]) => {
    const those = findings.filter((finding) => finding.flag_level === level);
    const names = those.map((finding) => finding.title).join(", ");
    return { open: false, title: fill(title, { mark: strings.flags.mark[level] ?? "", names }), findings: those };
  });
  return [{ open: true, title: "", findings: open }, ...rest].filter((one) => one.findings.length);
}

// The worst findings, by title, for the line on top.
export function gravest(answer) {
  const worst = answer.findings.filter((finding) => finding.level === answer.level);
  return worst.map((finding) => finding.title).join(", ");
}

const ASKED = { sprayed_ml: [0.01, 2000], minutes: [0.01, 600], coats: [1, 20] };

export function readAsked(typed, volumeUnit) {
  const asked = {};
  const faults = [];
  for (const [name, [low, high]] of Object.entries(ASKED)) {
    if (!typed[name]?.trim()) continue;
    const number_ = typedNumber(typed[name]);
    const value = name === "sprayed_ml" && known(number_) ? millilitres(number_, volumeUnit) : number_;
    if (!known(value) || value < low || value > high || (name === "coats" && !Number.isInteger(value))) {
      faults.push([name, say.need[name]]);
    } else asked[name] = value;
  }
  if (typed.sanding) {
    asked.sanding = true;
    if (typed.painted_year?.trim()) {
      const year = typedNumber(typed.painted_year);
      if (Number.isInteger(year) && year >= 1500 && year <= 2200) asked.painted_year = year;
      else faults.push(["painted_year", say.need.painted_year]);
    }
    if (typed.laboratory_found) asked.laboratory_found = typed.laboratory_found === "true";
  }
  return { asked, faults };
}

// What a person will do next, from the coats on record: the last coat's paint and minutes.
export function likelyAsked(coats) {
  const ended = coats.find((coat) => coat.end);
  if (!ended) return {};
  const minutes = (Date.parse(ended.end) - Date.parse(ended.start)) / 60_000;
  const { sprayed_ml } = ended.settings ?? {};
  return {
    ...(known(sprayed_ml) && { sprayed_ml: String(sprayed_ml) }),
    ...(minutes >= 0.1 && minutes <= 600 && { minutes: minutes.toFixed(1) }),
  };
}

// --- the booth --------------------------------------------------------------------------------------

export const BOOTH_NUMBERS = [
  "width_m", "height_m", "volume_m3", "flow_m3h", "face_m_s", "rating_m3h", "crossdraft_m_s", "room_volume_m3",
  "room_air_changes_h", "mixing_divisor",
];
const FLOWS = { flow_m3h: "flow_m3h", face_m_s: "face_m_s", rating_m3h: "rating_m3h" };
const MAY_BE_NOUGHT = ["room_air_changes_h", "crossdraft_m_s"];

export function readBooth(typed) {
  const asked = { name: typed.name.trim() };
  const faults = asked.name ? [] : [["name", strings.mixing.need_name]];
  for (const name of BOOTH_NUMBERS) {
    if (name in FLOWS && typed.flow_by !== name) continue;
    if (!typed[name]?.trim()) continue;
    const value = typedNumber(typed[name]);
    const low = name === "mixing_divisor" ? 1 : MAY_BE_NOUGHT.includes(name) ? 0 : Number.MIN_VALUE;
    if (known(value) && value >= low) asked[name] = value;
    else faults.push([name, name === "mixing_divisor" ? say.need.mixing_divisor : say.need.number]);
  }
  if (typed.flow_by === "face_m_s" && "face_m_s" in asked) {
    for (const name of ["width_m", "height_m"]) if (!typed[name]?.trim()) faults.push([name, say.need.face]);
  }
  if (typed.exhaust) asked.exhaust = typed.exhaust;
  if (typed.filter_changed) asked.filter_changed = new Date(`${typed.filter_changed}T12:00`).toISOString();
  return { asked, faults };
}

// The booth on record as the form's fields.
export function boothFields(booth) {
  const fields = Object.fromEntries(BOOTH_NUMBERS.map((name) => [name, known(booth[name]) ? String(booth[name]) : ""]));
  const exhaust = booth.exhaust ?? (["ducted", "recirculating"].includes(booth.note) ? booth.note : "");
  const flow_by = Object.keys(FLOWS).find((name) => known(booth[name])) ?? "flow_m3h";
  const day = booth.filter_changed ? new Date(booth.filter_changed) : null;
  const two = (n) => String(n).padStart(2, "0");
  const filter_changed = day ? `${day.getFullYear()}-${two(day.getMonth() + 1)}-${two(day.getDate())}` : "";
  return { ...fields, name: booth.name, exhaust, flow_by, filter_changed };
}

export function boothWords(booth) {
  if (!booth) return say.booth_none;
  const size = known(booth.volume_m3) ? `${number(booth.volume_m3, 2)} m³` : say.volume_unknown;
  const flow = known(booth.flow_m3h) ? `${number(booth.flow_m3h, 0)} m³/h`
    : known(booth.face_m_s) ? fill(say.flow_face, { v: number(booth.face_m_s, 2) })
      : known(booth.rating_m3h) ? fill(say.flow_rating, { v: number(booth.rating_m3h, 0) }) : say.flow_unknown;
  return fill(say.booth_now, { name: booth.name, volume: size, flow, exhaust: booth.exhaust || booth.note || say.exhaust_unknown });
}

// --- the cartridge ----------------------------------------------------------------------------------

export function cartridgeWords(cartridge) {
  if (!cartridge) return say.cartridge_none;
  const opened = cartridge.opened ?? cartridge.fitted;
  return fill(say.cartridge_now, {
    name: cartridge.name, type: cartridge.type,
    opened: opened ? dayAndTime(opened) : say.opened_unknown,
  });
}

export function cartridgeRows(log) {
  const rows = [[say.log.worn, `${number(log.worn_h, 1)} h`], [say.log.humid, `${number(log.humid_h, 1)} h`]];
  const days = known(log.opened_days_ago) ? many(say.log.n_days, Math.floor(log.opened_days_ago)) : say.opened_unknown;
  return [...rows, [say.log.days, days]];
}

// Coats and their conditions as rows to read, to compare and to print.  Pure.
import { settingRows } from "./coat_settings.js";
import { strings } from "./strings.js";
import { age, channelValue, clockTime, dayAndTime, fill, known } from "./words.js";

const say = strings.coats;

// The order in which a person asks; what is not in it is not compared.
export const ORDER = Object.keys(say.name);

export function title(coat) {
  return `${coat.piece_name}: ${coat.coat_kind}`;
}

export function span(coat) {
  return coat.end ? `${dayAndTime(coat.start)} – ${clockTime(coat.end)}` : `${dayAndTime(coat.start)}, ${say.running}`;
}

// What is typed is looked for in piece, kind, person and day; `only` narrows by what went on.
export function filtered(coats, text, only = "all", findings = []) {
  const asked = text.trim().toLowerCase();
  const found = asked ? coats.filter((coat) => `${title(coat)} ${coat.person ?? ""} ${span(coat)}`.toLowerCase().includes(asked)) : coats;
  const keep = ONLY[only] ?? ONLY.all;
  return found.filter((coat) => keep(coat, findings));
}

const ONLY = {
  all: () => true,
  finding: (coat, findings) => findings.some((finding) => finding.coat === coat.id),
  flag: (coat) => (coat.conditions?.flags ?? []).some((flag) => flag.level === "caution" || flag.level === "stop"),
  // No conditions at all is the largest gap.
  unread: (coat) => !conditionsOf(coat).length || conditionsOf(coat).some((channel) => channel.gap_s > 0),
};

// The device that knows most of what matters: ideally air, humidity and part together.
export function chosenDevice(conditions) {
  const count = {};
  for (const channel of conditions?.channels ?? []) {
    if (!ORDER.includes(channel.channel) || channel.mean === null || channel.device === "film model") continue;
    const weight = channel.channel === "part_temperature" ? 2 : 1;
    count[channel.device] = (count[channel.device] ?? 0) + weight;
  }
  return Object.keys(count).sort((one, other) => count[other] - count[one])[0] ?? null;
}

// One channel a row, of the chosen device and of the film model.
export function conditionsOf(coat, device = chosenDevice(coat.conditions)) {
  const channels = (coat.conditions?.channels ?? []).filter(
    (channel) => channel.device === device || channel.device === "film model",
  );
  return ORDER.flatMap((name) => channels.filter((channel) => channel.channel === name));
}

export function otherDevices(coat) {
  const device = chosenDevice(coat.conditions);
  const all = (coat.conditions?.channels ?? []).map((channel) => channel.device);
  return [...new Set(all)].filter((name) => name !== device && name !== "film model");
}

export function range(channel, prefs) {
  const show = (value) => channelValue(channel.channel, value, prefs);
  return known(channel.low) ? `${show(channel.low)} – ${show(channel.high)}` : strings.dash;
}

export function conditionRow(channel, prefs) {
  const show = (value) => channelValue(channel.channel, value, prefs);
  return [
    say.name[channel.channel], show(channel.mean), range(channel, prefs), show(channel.worst_minute),
    channel.gap_s > 0 ? age(channel.gap_s * 1000) : say.gap_none,
  ];
}

export function facts(coat, volumeUnit = "ml") {
  const rows = [
    [say.start, dayAndTime(coat.start)],
    [say.end, coat.end ? dayAndTime(coat.end) : say.running],
    [say.length, coat.end ? age(Date.parse(coat.end) - Date.parse(coat.start)) : strings.dash],
    [say.person, coat.person ?? strings.dash],
  ];
  const minutes = (value) => age(value * 60_000);
  if (known(coat.conditions?.batch_age_min)) rows.push([say.cup_age, minutes(coat.conditions.batch_age_min)]);
  if (known(coat.conditions?.since_previous_coat_min)) {
    rows.push([say.since_previous, minutes(coat.conditions.since_previous_coat_min)]);
  }
  return [...rows, ...settingRows(coat.settings ?? {}, volumeUnit)];
}

export function flagRow(flag) {
  const level = strings.flags.level[flag.level] ?? flag.level;
  return [flag.key.replaceAll("_", " "), level, fill(say.minutes, { min: flag.minutes.toFixed(1) })];
}

// Two coats side by side: differs where the means lie outside each other's range.
export function compared(first, second, prefs) {
  const [one, other] = [first, second].map((coat) => new Map(conditionsOf(coat).map((c) => [c.channel, c])));
  const conditions = ORDER.filter((name) => one.has(name) || other.has(name)).map((name) => {
    const [a, b] = [one.get(name), other.get(name)];
    const show = (c) => (c && known(c.mean) ? `${channelValue(name, c.mean, prefs)} (${range(c, prefs)})` : strings.dash);
    return { name: say.name[name], first: show(a), second: show(b), verdict: verdictOf(a, b) };
  });
  return [...conditions, ...comparedSettings(first, second, prefs)];
}

// How each was sprayed; what was said of one only is not on both.
function comparedSettings(first, second, prefs) {
  const [one, other] = [first, second].map((coat) => new Map(settingRows(coat.settings ?? {}, prefs.volume)));
  return [...new Set([...one.keys(), ...other.keys()])].map((name) => {
    const [a, b] = [one.get(name), other.get(name)];
    const verdict = a === undefined || b === undefined ? "unknown" : a === b ? "alike" : "differs";
    return { name, first: a ?? strings.dash, second: b ?? strings.dash, verdict };
  });
}

export function verdictOf(a, b) {
  if (!a || !b || !known(a.mean) || !known(b.mean)) return "unknown";
  const apart = a.mean > b.high || a.mean < b.low;
  const back = b.mean > a.high || b.mean < a.low;
  return apart && back ? "differs" : "alike";
}

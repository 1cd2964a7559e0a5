// Pure functions from the bench's JSON to what the page says.  No page, no clock, no network here.
import { strings } from "./strings.js";

export function number(value, places) {
  return value === null || value === undefined ? "–" : value.toFixed(places).replace("-", "−");
}

// A booth channel: value with unit, or what is wrong with it.  `later_ms` is the time since it came.
export function channelText(channel, places, later_ms, silent_after_ms) {
  if (!channel) return { text: strings.noReading, stale: true };
  const age_ms = channel.age_ms + later_ms;
  if (age_ms > silent_after_ms) {
    return { text: strings.silent(Math.round(age_ms / 1000)), stale: true };
  }
  return { text: `${number(channel.value, places)} ${channel.unit}`, stale: false };
}

export function kelvinText(value) {
  return value === null || value === undefined ? strings.unknownMargin : `${number(value, 1)} K`;
}

export function verdictText(live, target, calibrated) {
  if (!calibrated) return strings.notCalibrated;
  if (!live) return strings.noLive;
  if (!target || live.de00 === null) return strings.noTarget;
  const plain = live.plain === "matched" ? strings.matched : live.plain;
  return `${strings.verdict[live.verdict]}: ${plain}`;
}

export function liveNote(live, age_ms) {
  const notes = [];
  if (age_ms > 2000) notes.push(strings.stale(Math.round(age_ms / 1000)));
  if (live?.clipped) notes.push(strings.clipped);
  for (const warning of live?.warnings ?? []) notes.push(warning);
  if (live && !live.screen.in_gamut) notes.push(strings.outOfGamut);
  return notes.join(" ");
}

export function batchText(batch) {
  if (!batch) return strings.batchNone;
  const contents = batch.contents.map((c) => `${c.paint} ${c.drops}`).join(", ");
  return strings.batch(batch.name, contents, batch.total_drops);
}

export function clockText(iso) {
  const moment = new Date(iso);
  return moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
}

export function trailText(swatch) {
  const de = swatch.de00 === null ? "no target" : `ΔE ${number(swatch.de00, 2)}`;
  return `${clockText(swatch.at)}: ${de} ± ${number(swatch.u95_de00, 2)}`;
}

const CONDITION_NAMES = {
  air_temperature: ["air", "°C", 1],
  relative_humidity: ["humidity", "%RH", 0],
  part_temperature: ["part", "°C", 1],
  margin_to_dew_point: ["margin to dew point", "K", 1],
};

// The conditions of a coat in words: mean and range of what was measured, gaps and flags named.
export function conditionsText(conditions) {
  if (!conditions) return strings.noConditions;
  const parts = [];
  for (const channel of conditions.channels) {
    const known = CONDITION_NAMES[channel.channel];
    if (!known || channel.mean === null) continue;
    const [name, unit, places] = known;
    const range = `${number(channel.low, places)} to ${number(channel.high, places)}`;
    parts.push(`${name} ${number(channel.mean, places)} ${unit} (${range}, ${channel.device})`);
  }
  if (conditions.gaps.length > 0) parts.push(`${conditions.gaps.length} gaps in the readings`);
  for (const flag of conditions.flags) {
    parts.push(`${flag.key.replaceAll("_", " ")} ${flag.level} ${number(flag.minutes, 1)} min`);
  }
  return parts.length ? parts.join("; ") : strings.noConditions;
}

export function coatText(coat) {
  const end = coat.end ? clockText(coat.end) : "running";
  return `${coat.piece_name}: ${coat.coat_kind}, ${clockText(coat.start)} to ${end}`;
}

export function flagText(flag) {
  const state = flag.cleared ? ` (${strings.cleared})` : "";
  return `${strings.level[flag.level] ?? flag.level}: ${flag.title}${state}`;
}

// What is typed as a decimal, with comma or point; null where it is no number.
export function typedNumber(text) {
  const plain = text.trim().replace(",", ".").replace("−", "-");
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : null;
}

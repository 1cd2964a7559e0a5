// From the bench's JSON to what booth and flags say.  Pure: no page, no clock, no network.
import { strings } from "./strings.js";
import { age, clockTime, difference, fill, known, many, number, temperature } from "./words.js";

const say = strings.booth;

const CHANNEL_TEXT = {
  air_c: (value, prefs) => temperature(value, prefs.temperature),
  part_c: (value, prefs) => temperature(value, prefs.temperature),
  rh_pct: (value) => `${number(value, 0)} %RH`,
  booth_pressure_pa: (value) => `${number(value, 1)} Pa`,
  air_speed_ms: (value) => `${number(value, 2)} m/s`,
};
export const CHANNELS = Object.keys(CHANNEL_TEXT);

// A booth channel with its unit, or what is wrong with it; `later_ms` is the time since it came.
export function channelText(key, channel, prefs, later_ms, silent_after_ms) {
  if (!channel) return { text: say.none, stale: true };
  const age_ms = channel.age_ms + later_ms;
  if (channel.silent || age_ms > (channel.silent_after_ms ?? silent_after_ms)) {
    return { text: fill(say.silent, { age: age(age_ms) }), stale: true };
  }
  return { text: CHANNEL_TEXT[key](channel.value, prefs), stale: false };
}

// How near the margin is to the flags' steps: 3 K is a caution, 0 K a stop.
export function marginLevel(margin_k) {
  if (!known(margin_k)) return "unknown";
  return margin_k < 0 ? "stop" : margin_k < 3 ? "caution" : "none";
}

export function filmWords(film, prefs) {
  if (!film) return say.film_none;
  return fill(say.film_words, {
    low: temperature(film.film_low_c, prefs.temperature),
    margin: difference(Math.abs(film.margin_k), prefs.temperature),
    side: film.margin_k < 0 ? say.film_below : say.film_above,
    pm: difference(film.plus_minus_k, prefs.temperature),
    rh: number(film.blush_rh_pct, 0),
  });
}

export function filmAssumed(film) {
  return film?.assumptions?.length ? fill(say.assumed, { words: film.assumptions.join("; ") }) : "";
}

export function purgeWords(ventilation) {
  const left = known(ventilation.purge_min) && ventilation.purge_min > 0
    ? `${fill(say.purge_left, { min: number(ventilation.purge_min, 1) })}. ` : "";
  return left + ventilation.purge_words;
}

export function cartridgeWords(cartridge) {
  if (!cartridge) return say.cartridge_none;
  const hours = number(cartridge.hours_used ?? 0, 1);
  return fill(say.cartridge, { name: cartridge.name, type: cartridge.type, hours });
}

const RANK = { stop: 3, caution: 2, unknown: 1, note: 0 };

export function level(flag) {
  return strings.flags.level[flag.level] ?? flag.level;
}

// Flags that stand before those that are over, the gravest first.
export function inOrder(flags) {
  const rank = (flag) => (flag.cleared ? -10 : 0) + (RANK[flag.level] ?? 0);
  return [...flags].sort((one, other) => rank(other) - rank(one));
}

// The mark in sight everywhere: the gravest flag that stands, and how many were not seen.
export function flagsMark(flags) {
  const standing = inOrder(flags.filter((flag) => !flag.cleared));
  const unread = flags.filter((flag) => !flag.acknowledged_by).length;
  const tail = unread ? ` ${fill(strings.flags.unread, { n: unread })}.` : "";
  if (standing.length === 0) return { level: unread ? "note" : "none", text: `${strings.flags.none_short}.${tail}` };
  const [gravest] = standing;
  const text = `${level(gravest)}: ${gravest.title}. ${many(strings.flags.count, standing.length)}.${tail}`;
  return { level: gravest.level, text };
}

export function flagWords(flag) {
  const help = flag.would_help ? ` ${fill(strings.flags.would_help, { words: flag.would_help })}` : "";
  return `${flag.words}.${help}`.replace("..", ".");
}

// A reading's name as the page says it everywhere else.
export function readingName(name) {
  const plain = name.replace(/_k$/, "");
  return (strings.coats.name[plain] ?? plain.replaceAll("_", " ")).toLowerCase();
}

export function flagTitle(flag) {
  return `${level(flag)}: ${flag.title}${flag.cleared ? ` (${strings.flags.cleared})` : ""}`;
}

export function flagSince(flag) {
  return fill(strings.flags.since, { time: clockTime(flag.raised) });
}

// Flags that are new since `seen` (a set of ids) and grave enough to be said aloud.
export function newFlags(flags, seen) {
  return flags.filter((flag) => !flag.cleared && !seen.has(flag.id) && (RANK[flag.level] ?? 0) >= 2);
}

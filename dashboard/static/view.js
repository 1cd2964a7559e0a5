// From the bench's JSON to what the mixing place says.  Pure: no page, no clock, no network.
import { strings } from "./strings.js";
import { age, clockTime, fill, known, many, number } from "./words.js";

const say = strings.mixing;

// pass, close or off, with the words of the trade; `state` none where nothing can be judged.
export function verdict(live, target, calibrated) {
  if (!calibrated) return { state: "none", word: say.not_calibrated, direction: "" };
  if (!live) return { state: "none", word: say.no_live, direction: "" };
  if (!target || live.de00 === null) return { state: "none", word: say.no_target, direction: "" };
  const plain = live.plain === "matched" ? say.matched : live.plain;
  return { state: live.verdict, word: say[live.verdict], direction: plain };
}

export function uncertainty(live) {
  return live && known(live.u95_de00) ? fill(say.u95, { u95: number(live.u95_de00, 1) }) : say.u95_none;
}

// The line under the verdict: how old the reading is.
export function liveAge(live, fresh) {
  if (!fresh.connected) return say.lost;
  if (!live) return "";
  return fresh.stale ? fill(say.stale, { age: age(fresh.live_age_ms) }) : say.fresh;
}

// What speaks against trusting the reading or its picture.
export function liveWarnings(live, target) {
  const notes = [];
  if (live?.clipped) notes.push(say.clipped);
  notes.push(...(live?.warnings ?? []));
  if (live && target && live.u95_de00 > target.tolerance_de00 && live.verdict === "close"
    && live.de00 <= target.tolerance_de00) notes.push(say.too_uncertain);
  if (target && !target.screen.in_gamut) notes.push(say.gamut_target);
  if (live && !live.screen.in_gamut) notes.push(say.gamut_mix);
  return notes;
}

// Drops are whole where they were counted, and to a tenth where some of the paint was weighed.
export const drops = (n) => many(say.drops, Number.isInteger(n) || !known(n) ? n : number(n, 1));

export const grams = (g) => fill(say.grams, { g: number(g, g < 1 ? 3 : 2) });

// What the next addition is and whether it may be poured: never twice on the same advice.
export function nextAddition(state) {
  const { advice, batch, target } = state;
  if (!target) return { kind: "words", words: advice.words };
  if (!batch) return { kind: "words", words: say.start_cup, why: "" };
  if (pouredSinceReading(batch)) return { kind: "stir", words: say.stir_first };
  if (!advice.current) return { kind: "working", words: say.working };
  const kind = advice.add.length > 0 && !advice.done ? "pour" : "words";
  return { kind, words: kind === "pour" ? "" : advice.words, why: adviceWhy(advice) };
}

export function pouredSinceReading(batch) {
  const poured = batch.ledger.filter((line) => line.drops || line.grams).at(-1);
  const read = batch.swatches.at(-1);
  return Boolean(poured) && (!read || Date.parse(poured.at) > Date.parse(read.at));
}

export function adviceWhy(advice) {
  if (!known(advice.predicted_de00)) return (advice.notes ?? []).join(" ");
  const values = {
    now: number(advice.now_de00, 1),
    predicted: number(advice.predicted_de00, 1),
    u95: number(advice.u95_de00, 1),
  };
  const why = dryWhy(advice);
  if (!advice.done) why.push(fill(known(advice.now_de00) ? say.why : say.why_first, values));
  if (known(advice.nearest_de00) && advice.reason === "unreachable") {
    why.push(fill(say.nearest, { nearest: number(advice.nearest_de00, 1) }));
  }
  return [...why, ...(advice.notes ?? [])].join(" ");
}

export function whatIfWords(seen) {
  const lab = (values) => values.map((value) => number(value, 1)).join(" / ");
  const wet = fill(say.what_if_answer, { de: number(seen.de00, 1), u95: number(seen.u95_de00, 1), lab: lab(seen.lab_d65_10) });
  if (!seen.dry || !known(seen.dry.de00)) return wet;
  return `${wet} ${fill(say.why_dry, { de: number(seen.dry.de00, 1), u95: number(seen.dry.u95_de00, 1) })}`;
}

// Where the cup aims at the dry colour: what it should come to once it is dry.
function dryWhy({ dry }) {
  if (!dry || !known(dry.de00)) return [];
  const values = { de: number(dry.de00, 1), u95: number(dry.u95_de00, 1) };
  return [fill(dry.assumed ? say.why_dry_assumed : say.why_dry, values)];
}

export function cupWords(batch) {
  if (!batch) return say.cup_none;
  const total = fill(say.cup_total, { name: batch.name, drops: drops(batch.total_drops) });
  const recipe = batch.recipe ? fill(say.cup_recipe, { kind: (strings.more.kinds[batch.recipe.kind] ?? batch.recipe.kind).toLowerCase() }) : "";
  return [total, recipe, batch.aim === "dry" ? say.cup_dry : ""].filter(Boolean).join(". ");
}

// The cup's contents with their shares, largest first as they stand in the ledger.
export function cupContents(batch) {
  return (batch?.contents ?? []).map((entry) => ({
    ...entry, share: batch.total_drops ? entry.drops / batch.total_drops : 0,
  }));
}

// The ledger's last line that can be taken back, in words; null where there is none.
export function lastLine(batch) {
  const line = (batch?.ledger ?? []).filter((entry) => entry.drops || entry.ml || entry.grams).at(-1);
  if (!line) return null;
  if (line.grams) return `${line.name}, ${grams(line.grams)}`;
  return line.drops ? `${line.name}, ${drops(line.drops)}` : `${line.name}, ${number(line.ml, 2)} mL`;
}

export function readingRow(swatch) {
  const lab = swatch.lab ? swatch.lab.map((value) => number(value, 1)).join(" / ") : strings.dash;
  return {
    time: clockTime(swatch.at),
    de: `${number(swatch.de00, 2)} ± ${number(swatch.u95_de00, 1)}`,
    lab,
    hex: swatch.screen?.hex ?? null,
  };
}

// What the first visit still needs: board, dark, white, target; null once all is there.
export function firstSteps(state) {
  const calibration = state.calibration.state;
  const done = {
    board: calibration !== "no board",
    dark: calibration === "dark measured" || calibration === "ready",
    white: calibration === "ready",
    target: state.target !== null,
  };
  const order = ["board", "dark", "white", "target"];
  const now = order.find((step) => !done[step]);
  if (now === undefined) return null;
  return order.map((step) => ({ step, state: done[step] ? "done" : step === now ? "now" : "later" }));
}

// Black or white letters on a swatch.
export function inkOn(hex) {
  const [r, g, b] = [1, 3, 5].map((at) => {
    const part = parseInt(hex.slice(at, at + 2), 16) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b > 0.179 ? "#000" : "#fff";
}

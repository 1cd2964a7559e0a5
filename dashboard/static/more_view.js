// What the folded parts of the mixing place say: placements, lamps, recipes, coats, amounts, batches.  Pure.
import { strings } from "./strings.js";
import { drops } from "./view.js";
import { dayAndTime, fill, known, many, number, sentence, typedNumber, volume } from "./words.js";

const say = strings.more;

export const labText = (lab) => lab.map((value) => number(value, 1)).join(" / ");
const withU95 = (de, u95) => (known(u95) ? fill(say.de_u95, { de: number(de, 1), u95: number(u95, 1) }) : number(de, 1));

// How many placements there are, how far they lie apart, and which one does not count.
export function placementsWords({ placements, together }) {
  const n = placements.length;
  if (n === 0) return say.placed_none;
  const more = n < 3 ? ` ${many(say.placed_more, 3 - n)}` : "";
  const spread = n > 1 && together ? ` ${fill(say.placed_spread, { spread: number(together.spread_de00, 2), u95: number(together.u95_de00, 1) })}` : "";
  return `${many(say.placed, n)}${spread}${more}`;
}

export function placementRows({ placements, together }) {
  const apart = together?.outliers ?? [];
  return placements.map((placement, at) => ({
    name: fill(say.placement_n, { n: at + 1 }),
    lab: labText(placement.lab),
    u95: `± ${number(placement.u95_de00, 1)}`,
    note: placement.clipped ? say.placement_clipped : apart.includes(String(at + 1)) ? say.placement_apart : "",
    hex: placement.screen?.hex ?? null,
  }));
}

export const lampRows = (report) => [
  [say.daylight, number(report.daylight_de00, 2), ""],
  ...report.lamps.map((lamp) => [say.lamp[lamp.illuminant] ?? lamp.illuminant, number(lamp.de00, 2), lamp.words]),
];

export function recipeWords(recipe) {
  const cup = recipe.recipe.map((dose) => `${drops(dose.drops)} ${dose.paint}`).join(" + ");
  const { weighed = null, also = [] } = recipe;
  const name = (kind) => say.kinds[kind] ?? kind;
  const metameric = known(recipe.metameric_de00) ? fill(say.recipe_lamp, { de: number(recipe.metameric_de00, 1) }) : "";
  const why = fill(say.recipe_why, { de: withU95(recipe.predicted_de00, recipe.predicted_u95_de00), drops: drops(recipe.total_drops) });
  const kind = recipe.kind ?? "recommended";
  const scale = weighed?.grams ? fill(say.weighed, { words: weighed.words, total: number(weighed.total_g, 2), pct: number(weighed.worst_share_error_pct, 1) }) : "";
  return { kind, title: [kind, ...also].map(name).join(", "), cup, scale, why: recipe.words ? `${sentence(recipe.words)}.` : [why, metameric].filter(Boolean).join(" ") };
}

// The recommended recipe and the choices beside it, each only once.
export function recipeList(book) {
  const seen = new Set();
  return (book.choices ?? [book, ...(book.alternatives ?? [])]).map(recipeWords).filter(({ cup }) => cup && !seen.has(cup) && seen.add(cup));
}

export const coatRows = (ahead) => ahead.coats.map((coat) => [
  many(say.coats_n, coat.coats),
  withU95(coat.de00, coat.u95_de00),
  `${number(coat.contrast_ratio * 100, 0)} %`,
  coat.hides ? say.hides : say.shows_through,
]);

export function dryWords(look) {
  const de = known(look.de00) ? fill(say.dry_de, { de: withU95(look.de00, look.u95_de00) }) : say.dry_no_de;
  const shifts = look.shifts ?? [look];
  return { words: `${fill(say.dry_lab, { lab: labText(look.lab_d65_10) })} ${de}`, rests: shifts.map((shift) => `${shift.assumed ? say.assumption : say.learned} ${shift.words}`) };
}

export function amountWords(amount, unit) {
  const values = { paint: volume(amount.paint_ml, unit), reducer: volume(amount.reducer_ml, unit), thinned: volume(amount.thinned_ml, unit), drops: drops(amount.drops) };
  return { words: fill(amount.reducer_ml > 0 ? say.amount_thinned : say.amount, values), assumed: amount.assumed.map((text) => fill(say.assumed, { words: text })) };
}

export function againWords(again, unit) {
  const values = { cup: again.drops.map(([name, n]) => `${drops(n)} ${name}`).join(" + "), paint: volume(again.paint_ml, unit), reducer: volume(again.reducer_ml, unit), pct: number(again.worst_share_error_pct, 1) };
  return fill(again.reducer_ml > 0 ? say.again_thinned : say.again, values);
}

export const driftRows = (points) => points.map((point) => [
  point.batch.replace(/ \([^()]*\)$/, ""), number(point.from_first_de00, 2), number(point.from_target_de00, 2),
]);

export function effluxWords(found) {
  return [fill(say.efflux_done, { cup: found.cup, s: number(found.seconds, 1), nu: number(found.kinematic_mm2_s, 1) }), found.note ? `${found.note}.` : ""].filter(Boolean).join(" ");
}

export function batchName(batch, unit) {
  const left = known(batch.left_ml) ? fill(say.left, { left: volume(batch.left_ml, unit) }) : "";
  return [batch.name, dayAndTime(batch.made), left].filter(Boolean).join(", ");
}

// From a form's texts to numbers: what is left empty is left out; { faults } where one is no number.
export function readNumbers(texts, { needed = [], scale = {} } = {}) {
  const asked = {};
  const faults = [];
  for (const [name, text] of Object.entries(texts)) {
    const value = typedNumber(String(text ?? "").replace("%", ""));
    const empty = String(text ?? "").trim() === "";
    if (empty && !needed.includes(name)) continue;
    if (value === null) faults.push([name, empty ? say.need_this : say.need_plain_number]);
    else asked[name] = Number((value * (scale[name] ?? 1)).toPrecision(12));
  }
  return { asked, faults };
}

// What a paint still needs before it can be mixed with, and a reducer's shares.  Pure.
import { strings } from "./strings.js";
import { fill, number, typedNumber } from "./words.js";

const say = strings.shelf;

export function whiteOf(paints) {
  return paints.find((paint) => paint.details.white)?.name ?? null;
}

// Which swatch comes next: alone, let down with the white, or none.
export function nextSwatch(paint, white) {
  const swatches = paint.details.swatches ?? [];
  const alone = swatches.some((swatch) => Object.keys(swatch.parts).length === 1);
  if (!alone) return "alone";
  if (paint.details.white || paint.name === white) return "none";
  const letDown = swatches.some((swatch) => Object.keys(swatch.parts).length > 1);
  if (letDown) return "none";
  return white ? "let down" : "white first";
}

export function swatchWords(paint, white) {
  const next = nextSwatch(paint, white);
  const words = { alone: say.needs_alone, "let down": say.needs_let_down, "white first": say.needs_white, none: say.ready };
  return fill(words[next], { paint: paint.name, white });
}

export function partsOf(paint, white, kind) {
  return kind === "alone" ? { [paint.name]: 20 } : { [white]: 20, [paint.name]: 2 };
}

// From rows of [solvent, typed share] to shares, or what is wrong and in which row.
export function readShares(rows) {
  const used = rows.filter(([name, share]) => name.trim() || share.trim());
  if (used.length === 0) return { row: 0, field: "name", words: say.need_solvent };
  const solvents = {};
  for (const [at, [name, share]] of rows.entries()) {
    if (!name.trim() && !share.trim()) continue;
    if (!name.trim()) return { row: at, field: "name", words: say.need_solvent };
    const value = typedNumber(share);
    if (value === null || value <= 0) return { row: at, field: "share", words: fill(say.need_share, { solvent: name }) };
    solvents[name.trim()] = (solvents[name.trim()] ?? 0) + value / 100;
  }
  const sum = Object.values(solvents).reduce((total, share) => total + share, 0);
  if (Math.abs(sum - 1) > 0.005) return { row: used.length - 1, field: "share", words: fill(say.need_sum, { sum: number(sum * 100, 1) }) };
  return { solvents };
}

export function solventsText(solvents) {
  return Object.entries(solvents).map(([name, share]) => `${name} ${number(share > 1 ? share : share * 100, 0)} %`).join(", ");
}

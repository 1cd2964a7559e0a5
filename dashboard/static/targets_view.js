// A target as typed, its facts in words, the parts marked in a photograph.  Pure.
import { besideRows } from "./sheet_view.js";
import { strings } from "./strings.js";
import { fill, known, number, typedNumber } from "./words.js";

const say = strings.target;
const { mixing } = strings;
const LARGEST_PICTURE = 12_000_000;
const PICTURES = ["image/jpeg", "image/png", "image/webp", "image/gif"];
const LEAST_PIXELS = 9;
const MOST_PICTURES = 8;
export const MOST_SHADES = 12;

// "52.0 / -1.0 / 4.0 (D65, 10° observer), tolerance 1.0, a guide, from photographs, ± 8.1 (95 in 100)".
export function targetFacts(target) {
  const how = say.origins[target.origin] ?? (target.measured ? strings.shelf.measured : strings.shelf.typed);
  return [
    `${target.lab.map((value) => number(value, 1)).join(" / ")} (${strings.more.whites[target.white]})`,
    fill(mixing.tolerance, { tolerance: number(target.tolerance_de00, 1) }),
    how,
    known(target.u95_de00) && target.u95_de00 > 0 ? fill(mixing.u95, { u95: number(target.u95_de00, 1) }) : "",
  ].filter(Boolean).join(", ");
}

// What every form of a target asks: its name, its tolerance, the model it is a shade of.
function readCommon(texts) {
  const faults = [];
  const asked = { name: texts.name.trim(), tolerance_de00: typedNumber(texts.tolerance_de00) };
  if (!asked.name) faults.push(["name", mixing.need_name]);
  if (asked.tolerance_de00 === null) faults.push(["tolerance_de00", mixing.need_number]);
  if (texts.variant_of.trim()) asked.variant_of = texts.variant_of.trim();
  return { asked, faults };
}

// Faults in the order of the fields, for the first is the one gone to: the name, a form's own, the tolerance.
function inOrder(common, own) {
  const isName = ([name]) => name === "name";
  return [...common.filter(isName), ...own, ...common.filter((entry) => !isName(entry))];
}

export function readTyped(texts) {
  const { asked, faults } = readCommon(texts);
  const own = texts.how === "munsell" ? readMunsell(texts, asked) : readLab(texts, asked);
  return { asked, faults: inOrder(faults, own) };
}

function readMunsell(texts, asked) {
  asked.munsell = texts.munsell.trim();
  return asked.munsell ? [] : [["munsell", say.need_munsell]];
}

function readLab(texts, asked) {
  asked.lab = ["l", "a", "b"].map((name) => typedNumber(texts[name]));
  asked.illuminant = texts.illuminant;
  asked.observer = Number(texts.observer);
  const faults = [];
  ["l", "a", "b"].forEach((name, at) => {
    if (asked.lab[at] === null) faults.push([name, fill(mixing.need_lab, { which: `${name.toUpperCase()}*` })]);
  });
  const [l, a, b] = asked.lab;
  if (l !== null && (l < 0 || l > 100)) faults.push(["l", fill(say.lab_l, { got: number(l, 1) })]);
  if (Math.hypot(a, b) > 130) faults.push(["a", fill(strings.chart.lab_ab, { a: number(a, 1), b: number(b, 1) })]);
  for (const name of ["illuminant", "observer"]) if (!texts[name]) faults.push([name, say.need_stated]);
  return faults;
}

// --- shades of one model ----------------------------------------------------------------------------

// The model itself first, where a target of its name is on record, then its shades; each against the first.
export function shadeRows({ itself, targets }) {
  const all = [...(itself ? [itself] : []), ...targets];
  const last = Object.fromEntries(all.map((target) => [target.id, target.de00_last]));
  const ids = all.map(({ id }) => id);
  return besideRows(all, ids, MOST_SHADES).map((row, at) => ({ ...row, last: number(last[ids[at]], 1) }));
}

// --- photographs ------------------------------------------------------------------------------------

export function pictureFault({ name, type, size }) {
  return PICTURES.includes(type) && size > 0 && size <= LARGEST_PICTURE ? "" : fill(say.bad_picture, { name });
}

// Where in the picture a tap on it lies: a whole pixel inside, however large it is shown.
export function pixelAt([x, y], [shownWidth, shownHeight], [width, height]) {
  const inside = (value, most) => Math.min(Math.max(Math.floor(value), 0), most - 1);
  return [inside((x / shownWidth) * width, width), inside((y / shownHeight) * height, height)];
}

// [left, top, width, height] of two opposite corners, both of them inside it.
export function boxOf([x1, y1], [x2, y2]) {
  return [Math.min(x1, x2), Math.min(y1, y2), Math.abs(x1 - x2) + 1, Math.abs(y1 - y2) + 1];
}

// Typed left, top, width, height; null where all are empty, undefined where they are no part of the picture.
export function readBox(texts, [width, height]) {
  if (texts.every((text) => text.trim() === "")) return null;
  const box = texts.map(typedNumber);
  const [left, top, wide, high] = box;
  const whole = box.every((value) => Number.isInteger(value) && value >= 0);
  return whole && left + wide <= width && top + high <= height && wide * high >= LEAST_PIXELS ? box : undefined;
}

// The form, and of each picture { n, name, media_type, data_base64, size, patch, neutral } as typed.
export function readPhotographs(texts, pictures) {
  const { asked, faults: common } = readCommon(texts);
  const faults = [];
  if (pictures.length === 0) faults.push(["pictures", say.need_picture]);
  if (pictures.length > MOST_PICTURES) faults.push(["pictures", fill(say.most, { n: pictures.length })]);
  asked.pictures = pictures.map(({ n, name, media_type, data_base64, size, patch, neutral }) => {
    const [box, white] = [readBox(patch, size), readBox(neutral, size)];
    const need = fill(say.need_part, { w: size[0], h: size[1] });
    if (!box) faults.push([`patch-${n}-0`, need]);
    if (white === undefined) faults.push([`neutral-${n}-0`, need]);
    return { name, media_type, data_base64, patch: box, ...(white && { neutral: white }) };
  });
  if (texts.neutral_l.trim()) {
    asked.neutral_l = typedNumber(texts.neutral_l);
    if (!(asked.neutral_l >= 20 && asked.neutral_l <= 100)) faults.push(["neutral_l", say.need_neutral_l]);
  }
  return { asked, faults: inOrder(common, faults) };
}

// The field of the picture that the bench's line is about, as in "picture deck.png: the neutral has L 12…".
export function refusedField(message, pictures) {
  const named = pictures.filter(({ name }) => message.startsWith(`picture ${name}:`));
  const part = /\bneutral\b/.test(message) ? "neutral" : "patch";
  return named.length ? `${part}-${named[0].n}-0` : null;
}

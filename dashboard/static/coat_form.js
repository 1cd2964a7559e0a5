// The coat's form: piece, kind, how it is sprayed (kept from the last coat), what the piece is made of.
import { onSubmit, post } from "./act.js";
import { announce } from "./announce.js";
import { bench } from "./bench.js";
import * as coatSettings from "./coat_settings.js";
import { allCoats, onCoats } from "./coats.js";
import * as equipment from "./equipment.js";
import { redraw, make, say } from "./dom.js";
import { keepsUnit, onPrefs, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { fill, known, typedNumber, UNITS } from "./words.js";

const words = strings.booth;
const say_ = strings.coat_form;
const { coatForm, pieceForm } = elements;
let pieces = [];
let filledFrom = null;
const touched = new Set();

const typed = () => Object.fromEntries(new FormData(coatForm));
const pieceName = () => coatForm.elements.piece.value.trim().replace(/\s+/g, " ");
const pieceOf = (name) => pieces.find((piece) => piece.name === name) ?? null;

// The pieces with their metal; asked for when the place is gone to and after an act.
export async function refresh() {
  try {
    const answer = await fetch("/api/pieces");
    if (!answer.ok) return;
    pieces = await answer.json();
  } catch {
    return; // the connection line says so
  }
  redraw(elements.pieceNames, pieces.map(({ name }) => name), () => pieces.map(({ name }) => make("option", { value: name })));
  drawPiece();
}

// The next coat is mostly on the same piece, sprayed the same way; what a person typed is left alone.
export function drawForm() {
  const { piece } = coatForm.elements;
  const [last] = bench.state.coats;
  if (piece.value === "" && !touched.has("piece") && last) piece.value = last.piece_name;
  remember();
}

export const drawPartOf = (booth) => equipment.drawPart(booth);

function remember() {
  const last = coatSettings.lastCoat(allCoats(), pieceName());
  const from = `${last?.id} ${prefs.volume}`;
  if (from !== filledFrom) {
    filledFrom = from;
    const fields = last ? coatSettings.fieldsOf(last.settings, prefs.volume) : {};
    for (const [name, value] of Object.entries(fields)) {
      if (!touched.has(name)) coatForm.elements[name].value = value;
    }
    const kept = last && Object.values(fields).some((value) => value !== "");
    say(elements.coatKept, kept ? fill(say_.kept, { piece: last.piece_name }) : say_.kept_none);
  }
  tell();
}

function tell() {
  say(elements.coatBrief, coatSettings.briefly(typed(), prefs.volume));
  say(elements.sprayedUnit, fill(say_.sprayed, { unit: UNITS[prefs.volume] }));
}

let drawnPiece = null;

function drawPiece() {
  const piece = pieceOf(pieceName());
  equipment.showParts(piece);
  const mark = JSON.stringify([pieceName(), piece?.metal, piece?.metal_mm, piece?.surface]);
  if (mark === drawnPiece) return;
  drawnPiece = mark;
  pieceForm.elements.metal.value = piece?.metal ?? "";
  pieceForm.elements.metal_mm.value = known(piece?.metal_mm) ? String(piece.metal_mm) : "";
  pieceForm.elements.surface.value = piece?.surface ?? "";
  say(elements.pieceWords, known(piece?.metal_mm)
    ? fill(say_.piece_known, { piece: piece.name, metal: say_.metals[piece.metal], mm: piece.metal_mm })
    : say_.piece_unknown);
}

function readCoat(form) {
  const { settings, faults } = coatSettings.readSettings(typed(), prefs.volume);
  const piece = pieceName();
  if (!piece) faults.unshift(["piece", words.need_piece]);
  const { kind, part, airbrush } = form.elements;
  // An airbrush is said only where there is one to choose from; none said is none.
  const held = { ...(part.value && { part: part.value }), ...(airbrush.options.length > 1 && { airbrush: airbrush.value }) };
  return { asked: { piece, kind: kind.value, settings, ...held }, faults };
}

function readPiece(form) {
  const faults = [];
  const piece = pieceName();
  if (!piece) faults.push(["metal", words.need_piece]);
  const metal = form.elements.metal.value;
  const metal_mm = typedNumber(form.elements.metal_mm.value);
  const surface = form.elements.surface.value;
  const metalSaid = metal || form.elements.metal_mm.value.trim();
  if (!metal && (metalSaid || !surface)) faults.push(["metal", say_.need_metal]);
  if (!(metal_mm > 0 && metal_mm <= 100) && (metalSaid || !surface)) faults.push(["metal_mm", say_.need_mm]);
  return { asked: { piece, ...(metalSaid && { metal, metal_mm }), ...(surface && { surface }) }, faults };
}

export function setUp() {
  equipment.setUp(() => pieceOf(pieceName()), refresh);
  coatForm.addEventListener("input", ({ target }) => {
    touched.add(target.name);
    if (target.name === "piece") {
      remember();
      drawPiece();
    } else tell();
  });
  onSubmit(coatForm, readCoat, async ({ asked }) => {
    await post("/api/coats", asked);
    touched.clear();
    announce(fill(words.running, asked));
    elements.coatEnd.focus();
  });
  onSubmit(pieceForm, readPiece, async ({ asked }) => {
    await post("/api/pieces", asked);
    await refresh();
    announce(elements.pieceWords.textContent);
  });
  onCoats(() => {
    if (bench.state) drawForm();
    refresh();
  });
  keepsUnit(coatForm.elements.sprayed_ml, "volume");
  onPrefs((name) => name === "volume" && bench.state && remember());
}

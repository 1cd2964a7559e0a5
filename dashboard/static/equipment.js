// What a coat is sprayed with and on: airbrushes, parts of the piece, the part's temperature by contact.
import { onSubmit, post, press } from "./act.js";
import { announce } from "./announce.js";
import { bench } from "./bench.js";
import { make, redraw, say, show } from "./dom.js";
import { keepsUnit, onPrefs, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { celsius, dayAndTime, fill, known, number, temperature, typedNumber, UNITS } from "./words.js";

const words = strings.equipment;
const { coatForm, airbrushForm, partForm, partTemperatureForm } = elements;
let brushes = [];
let partsOf = null;

async function look(path) {
  const answer = await fetch(path);
  if (!answer.ok) throw new Error(answer.statusText);
  return answer.json();
}

// --- airbrushes -------------------------------------------------------------------------------------

export async function refreshAirbrushes() {
  try {
    const held = await look("/api/airbrushes");
    brushes = held.airbrushes;
    const pairs = [["", words.none], ...brushes.map(({ id, name }) => [id, name])];
    choices(coatForm.elements.airbrush, pairs, held.in_hand?.id ?? "");
    show(coatForm.elements.airbrush.closest("label"), brushes.length > 0);
  } catch {
    return; // the connection line says so
  }
  drawAirbrush();
}

function choices(select, pairs, chosen) {
  redraw(select, pairs, () => pairs.map(([value, name]) => make("option", { value }, name)));
  if (pairs.some(([value]) => value === chosen)) select.value = chosen;
}

function drawAirbrush() {
  const brush = brushes.find(({ id }) => id === coatForm.elements.airbrush.value);
  show(elements.airbrushCleaned, Boolean(brush));
  say(elements.airbrushWords, brush ? [
    known(brush.nozzle_mm) && fill(words.nozzle_of, { mm: number(brush.nozzle_mm, 2) }),
    known(brush.pressure_pa) && fill(words.pressure_of, { bar: number(brush.pressure_pa / 1e5, 1) }),
    known(brush.distance_mm) && fill(words.distance_of, { mm: number(brush.distance_mm, 0) }),
    brush.cleaned ? fill(words.cleaned_at, { time: dayAndTime(brush.cleaned) }) : words.cleaned_unknown,
  ].filter(Boolean).join(", ") : words.no_airbrush);
}

const LIMITS = { nozzle_mm: [0.05, 3], pressure_bar: [0.1, 6], distance_mm: [10, 600] };

function readAirbrush(form) {
  const asked = { name: form.elements.name.value.trim() };
  const faults = asked.name ? [] : [["name", strings.mixing.need_name]];
  for (const [name, [low, high]] of Object.entries(LIMITS)) {
    const text = form.elements[name].value.trim();
    if (text === "") continue;
    const value = typedNumber(text);
    if (known(value) && value >= low && value <= high) asked[name] = value;
    else faults.push([name, fill(strings.coat_form.range, { low, high })]);
  }
  return { asked, faults };
}

// --- parts of the piece -----------------------------------------------------------------------------

export async function showParts(piece, again = false) {
  if (!again && piece?.id === partsOf) return;
  partsOf = piece?.id ?? null;
  let parts = [];
  try {
    if (piece) parts = await look(`/api/pieces/${encodeURIComponent(piece.id)}/parts`);
  } catch {
    partsOf = undefined;
  }
  choices(coatForm.elements.part, [["", words.whole], ...parts.map(({ id, name }) => [id, name])], "");
  show(coatForm.elements.part.closest("label"), parts.length > 0);
}

// --- the part's temperature -------------------------------------------------------------------------

export function drawPart({ part }) {
  say(elements.partTemperatureUnit, fill(words.part_c, { unit: UNITS[prefs.temperature] }));
  say(elements.partTemperatureWords, part?.words ?? "");
  const surfaces = part?.surfaces ?? [];
  const select = elements.pieceForm.elements.surface;
  redraw(select, surfaces, () => ["", ...surfaces].map((name) => make("option", { value: name }, name || strings.coat_form.not_said)));
}

export function setUp(pieceInHand, refreshPieces) {
  coatForm.elements.airbrush.addEventListener("change", drawAirbrush);
  onSubmit(airbrushForm, readAirbrush, async ({ asked }) => {
    await post("/api/airbrushes", asked);
    airbrushForm.reset();
    await refreshAirbrushes();
    announce(fill(words.airbrush_kept, asked));
  });
  press(elements.airbrushCleaned, async () => {
    await post(`/api/airbrushes/${coatForm.elements.airbrush.value}/cleaned`, {});
    await refreshAirbrushes();
    announce(elements.airbrushWords.textContent);
  });
  onSubmit(partForm, (form) => {
    const name = form.elements.name.value.trim();
    const piece = pieceInHand();
    const faults = name ? [] : [["name", strings.mixing.need_name]];
    if (!piece) faults.push(["name", words.piece_first]);
    return { asked: { piece: piece?.id, name }, faults };
  }, async ({ asked }) => {
    const part = await post("/api/parts", asked);
    partForm.reset();
    await refreshPieces();
    await showParts(pieceInHand(), true);
    coatForm.elements.part.value = part.id;
    announce(fill(words.part_kept, part));
  });
  onSubmit(partTemperatureForm, (form) => {
    const typed = typedNumber(form.elements.part_c.value);
    const part_c = celsius(typed, prefs.temperature);
    const good = known(part_c) && part_c >= -20 && part_c <= 90;
    return { asked: { part_c }, faults: good ? [] : [["part_c", fill(words.need_part_c, { low: temperature(-20, prefs.temperature, 0), high: temperature(90, prefs.temperature, 0) })]] };
  }, async ({ asked }) => {
    await post("/api/part-temperature", asked);
    partTemperatureForm.reset();
    announce(words.part_entered);
  });
  keepsUnit(partTemperatureForm.elements.part_c, "temperature");
  onPrefs(() => bench.state && drawPart(bench.state.booth));
}

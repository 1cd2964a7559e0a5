// The folded parts of the mixing place: each asks the bench when it is unfolded.
import { fault, onSubmit, post, Refused, run } from "./act.js";
import { announce } from "./announce.js";
import { bench } from "./bench.js";
import { make, redraw, say, show, table } from "./dom.js";
import * as view from "./more_view.js";
import { keepsUnit, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { celsius, fill, many, millilitres, number, sentence, typedNumber, UNITS } from "./words.js";

const words = strings.more;
let placed = { placements: [], together: null };

async function get(path) {
  let answer;
  let body;
  try {
    answer = await fetch(path);
    body = await answer.json();
  } catch {
    throw new Refused(strings.link.failed, null);
  }
  if (!answer.ok) throw new Refused(body.error, body.field);
  return body;
}

const list = (texts, kind = "plain") => (texts.length ? make("ul", { class: kind }, ...texts.map((text) => make("li", {}, text))) : null);
const note = (text) => (text ? make("p", { class: "note" }, text) : null);
const strong = (text) => make("p", { class: "words small" }, text);

// A part that is asked when it is unfolded, and again by its button; a refusal stands in its place.
// `path` may be a function where a form has its say in it.
function panel(id, path, drawn) {
  const whole = document.getElementById(id);
  const place = whole.querySelector("[role=status]");
  const button = whole.querySelector("button");
  const ask = () => run(button, async () => {
    const answer = await get(typeof path === "string" ? path : path());
    place.replaceChildren(...drawn(answer).filter(Boolean));
  }, (refused) => place.replaceChildren(make("p", { class: "error" }, refused.message)));
  whole.addEventListener("toggle", () => whole.open && ask());
  button.addEventListener("click", ask);
}

const drawLamps = (report) => [strong(sentence(report.words)), table(words.lamps, [words.light, strings.mixing.off_by, words.what], view.lampRows(report))];

function drawRecipes(book) {
  const items = view.recipeList(book).map((recipe) => make("li", {},
    make("span", { class: "label" }, recipe.title), make("strong", {}, recipe.cup), recipe.scale ? make("span", {}, recipe.scale) : null, note(recipe.why), chooser(recipe)));
  const missing = book.missing ? strong(fill(book.missing.nearest ? words.missing_nearest : words.missing, book.missing)) : null;
  return [missing, make("ul", { class: "cards" }, ...items)];
}

function chooser(recipe) {
  const button = make("button", { type: "button", class: "quiet", "aria-label": fill(words.choose_named, { name: recipe.title }) }, words.choose);
  button.addEventListener("click", () => chooseRecipe(button, recipe.kind));
  return button;
}

function chooseRecipe(button, kind) {
  say(elements.recipeFault, "");
  run(button, async () => {
    await post("/api/mixing/recipe", { kind });
    announce(kind ? words.chosen : words.chosen_free);
  }, (refused) => say(elements.recipeFault, refused.message));
}

function recipePath() {
  const total = typedNumber(elements.recipeTotal.value);
  return total > 0 ? `/api/mixing/recipe?total_g=${total}` : "/api/mixing/recipe";
}

function drawAim(batch) {
  const dry = batch?.aim === "dry";
  elements.aimAct.disabled = !batch;
  say(elements.aimWords, batch ? (dry ? words.aims_dry : words.aims_wet) : "");
  if (!elements.aimAct.classList.contains("busy")) say(elements.aimAct, dry ? words.aim_wet : words.aim_dry);
  show(elements.recipeFree, Boolean(batch?.recipe));
}

function setAim() {
  const aim = bench.state.batch?.aim === "dry" ? "wet" : "dry";
  say(elements.aimFault, "");
  run(elements.aimAct, () => post("/api/batches/aim", { aim }), (refused) => say(elements.aimFault, refused.message)).then(drawMore);
}

function drawCoats(ahead) {
  const film = [ahead.film_words ?? "", ...(ahead.assumed ?? []).map((text) => fill(words.assumed, { words: text }))].filter(Boolean);
  const caution = ahead.film?.caution ? list([sentence(ahead.film.caution)], "warnings") : null;
  return [strong(sentence(ahead.words)), table(words.coats_ahead, words.coat_heads, view.coatRows(ahead)), caution, list(film.map(sentence))];
}

function drawDry(look) {
  const said = view.dryWords(look);
  return [strong(said.words), list(said.rests)];
}

const drawDrift = (points) => [table(words.drift, words.drift_heads, view.driftRows(points))];

// --- placements -------------------------------------------------------------------------------------

let asking = false;
async function refreshPlacements() {
  if (asking) return;
  asking = true;
  try {
    placed = await get("/api/placements");
    drawPlacements();
  } catch {
    // the connection line says so
  } finally {
    asking = false;
  }
}

function drawPlacements() {
  const n = placed.placements.length;
  say(elements.placedWords, view.placementsWords(placed));
  redraw(elements.placedRows, placed, () => {
    if (n === 0) return [];
    const rows = view.placementRows(placed).map((row) => {
      const chip = make("span", { class: "chip", "aria-hidden": "true" });
      if (row.hex) chip.style.backgroundColor = row.hex;
      return [row.name, make("span", {}, chip, row.lab), row.u95, row.note];
    });
    return [table(words.placements, words.placement_heads, rows), list(placed.together?.warnings ?? [], "warnings")].filter(Boolean);
  });
  elements.placedUse.disabled = n === 0;
  elements.placedClear.disabled = n === 0;
  if (!elements.placedUse.classList.contains("busy")) say(elements.placedUse, n ? many(words.use_placed, n) : words.use_none);
}

function onTap(button, act) {
  button.addEventListener("click", () => {
    const label = button.textContent;
    say(elements.placedFault, "");
    run(button, async () => {
      say(button, strings.first.measuring);
      try {
        await act();
      } finally {
        say(button, label);
      }
    }, (refused) => say(elements.placedFault, refused.message)).then(refreshPlacements);
  });
}

// --- what follows the bench -------------------------------------------------------------------------

export function drawMore() {
  const { state } = bench;
  const ready = state.calibration.state === "ready";
  const n = state.calibration.placements ?? 0;
  elements.placedTake.disabled = !ready;
  elements.surfaceForm.querySelector("button").disabled = !ready;
  if (n !== placed.placements.length) refreshPlacements();
  drawAim(state.batch);
  const coats = state.coats.map((coat) => [coat.id, `${coat.piece_name}: ${coat.coat_kind}`]);
  for (const form of [elements.surfaceForm, elements.tookForm]) {
    redraw(form.elements.coat, coats, () => coats.map(([id, name]) => make("option", { value: id }, name)));
  }
  const unit = UNITS[prefs.volume];
  say(elements.againUnit, fill(words.again_ml, { unit }));
  say(elements.tookUnit, fill(words.sprayed_ml, { unit }));
}

async function refreshBatches() {
  try {
    const batches = await get("/api/batches");
    const select = elements.againForm.elements.batch;
    redraw(select, [batches, prefs.volume], () => batches.map((batch) => make("option", { value: batch.id }, view.batchName(batch, prefs.volume))));
    drawCard();
  } catch {
    // the connection line says so
  }
}

function drawCard() {
  const { value } = elements.againForm.elements.batch;
  show(elements.cardLink, value !== "");
  elements.cardLink.href = `/api/batches/${encodeURIComponent(value)}/card`;
}

// --- forms ------------------------------------------------------------------------------------------

function readSurface(form) {
  const { of, coat, note: written } = form.elements;
  const asked = { of: of.value, note: written.value.trim() };
  if (of.value === "coat") asked.coat = coat.value || null;
  return { asked, faults: of.value === "coat" && !coat.value ? [["coat", words.need_coat]] : [] };
}

async function measureSurface({ asked }) {
  const button = elements.surfaceForm.querySelector("button");
  say(button, strings.first.measuring);
  try {
    const swatch = await post("/api/swatches", asked);
    const values = { of: words.surfaces[asked.of], de: number(swatch.de00, 1), u95: number(swatch.u95_de00, 1) };
    say(elements.surfaceWords, fill(swatch.de00 === null ? words.surface_done_alone : words.surface_done, values));
    elements.surfaceForm.elements.note.value = "";
  } finally {
    say(button, words.surface_measure);
  }
}

const texts = (form, names) => Object.fromEntries(names.map((name) => [name, form.elements[name].value]));

function setUpForms() {
  const { surfaceForm, amountForm, againForm, effluxForm, tookForm } = elements;
  surfaceForm.elements.of.addEventListener("change", () => show(elements.surfaceCoat, surfaceForm.elements.of.value === "coat"));
  onSubmit(surfaceForm, readSurface, measureSurface);
  const names = ["area_cm2", "coats", "wet_um_per_coat", "reducer_parts", "transfer", "left_behind_ml", "spare"];
  onSubmit(amountForm, (form) => view.readNumbers(texts(form, names), { needed: names.slice(0, 3), scale: { transfer: 0.01, spare: 0.01 } }), async ({ asked }) => {
    const found = view.amountWords(await post("/api/mixing/amount", asked), prefs.volume);
    elements.amountAnswer.replaceChildren(strong(found.words), list(found.assumed) ?? "");
  });
  againForm.elements.batch.addEventListener("change", drawCard);
  onSubmit(againForm, (form) => {
    const read = view.readNumbers(texts(form, ["paint_ml"]), { needed: ["paint_ml"], scale: { paint_ml: millilitres(1, prefs.volume) } });
    const begin = form.elements.begin.value.trim();
    if (begin) read.asked.begin = begin;
    if (!form.elements.batch.value) read.faults.unshift(["batch", words.need_batch]);
    return { ...read, batch: form.elements.batch.value };
  }, async ({ asked, batch }) => {
    const again = await post(`/api/batches/${encodeURIComponent(batch)}/again`, asked);
    const begun = again.batch ? fill(words.again_begun, { name: asked.begin }) : "";
    elements.againAnswer.replaceChildren(strong(view.againWords(again, prefs.volume)), note(begun) ?? "");
    if (again.batch) againForm.elements.begin.value = "";
  });
  onSubmit(tookForm, (form) => {
    const read = view.readNumbers(texts(form, ["ml", "area_cm2"]), { needed: ["ml"], scale: { ml: millilitres(1, prefs.volume) } });
    if (!form.elements.coat.value) read.faults.unshift(["coat", words.need_coat]);
    return { ...read, coat: form.elements.coat.value };
  }, async ({ asked, coat }) => {
    await post(`/api/coats/${encodeURIComponent(coat)}/sprayed`, asked);
    tookForm.elements.ml.value = "";
    say(elements.tookAnswer, words.sprayed_done);
  });
  onSubmit(effluxForm, (form) => {
    const read = view.readNumbers(texts(form, ["seconds", "temperature"]), { needed: ["seconds", "temperature"] });
    const { temperature, ...asked } = read.asked;
    return { asked: { ...asked, cup: form.elements.cup.value, temperature_c: celsius(temperature, prefs.temperature) }, faults: read.faults };
  }, async ({ asked }) => {
    say(elements.effluxAnswer, view.effluxWords(await post("/api/batches/efflux", asked)));
    effluxForm.elements.seconds.value = "";
  });
  for (const form of [surfaceForm, amountForm, againForm, effluxForm, tookForm]) form.addEventListener("input", (event) => fault(event.target, ""));
}

export function arrive() {
  refreshPlacements();
  if (elements.moreAgain.open) refreshBatches();
  say(elements.effluxUnit, fill(words.paint_temperature, { unit: UNITS[prefs.temperature] }));
}

export function setUp() {
  panel("more-lamps", "/api/mixing/lamps", drawLamps);
  panel("more-recipe", recipePath, drawRecipes);
  elements.recipeFree.addEventListener("click", () => chooseRecipe(elements.recipeFree, null));
  elements.aimAct.addEventListener("click", setAim);
  panel("more-coats", "/api/mixing/coats", drawCoats);
  panel("more-dry", "/api/mixing/dry", drawDry);
  panel("more-drift", "/api/batches/drift", drawDrift);
  onTap(elements.placedTake, () => post("/api/placements", {}));
  onTap(elements.placedClear, () => post("/api/placements/clear", {}));
  onTap(elements.placedUse, async () => {
    const swatch = await post("/api/swatches", {});
    announce(fill(strings.mixing.measured, { de: number(swatch.de00, 1), words: bench.live?.plain ?? "" }));
  });
  elements.moreAgain.addEventListener("toggle", () => elements.moreAgain.open && refreshBatches());
  setUpForms();
  keepsUnit(elements.tookForm.elements.ml, "volume");
  keepsUnit(elements.againForm.elements.paint_ml, "volume");
  keepsUnit(elements.effluxForm.elements.temperature, "temperature");
}

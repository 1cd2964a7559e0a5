// Findings: entered beside the coat, reviewed against the record, the report of the piece.
import { onSubmit, post, Refused, run } from "./act.js";
import { announce } from "./announce.js";
import { allCoats, onCoats } from "./coats.js";
import * as coatsView from "./coats_view.js";
import { make, redraw, show, table } from "./dom.js";
import { defectNamed, drawingOf, held, refreshFindings } from "./findings_held.js";
import * as view from "./findings_view.js";
import { prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { fill } from "./words.js";

const words = strings.back;
const LARGEST_PHOTO = 12_000_000;
const SHOWN = 5;

async function look(path) {
  let answer;
  try {
    answer = await fetch(path);
  } catch {
    throw new Refused(strings.link.failed, null);
  }
  const body = await answer.json();
  if (!answer.ok) throw new Refused(body.error, body.field);
  return body;
}

export async function refresh() {
  if (await refreshFindings()) drawFindings();
}

export function drawFindings() {
  const { coat, defect } = elements.findingForm.elements;
  choices(defect, held.defects.map(({ key, name }) => [key, name]));
  choices(coat, allCoats().filter((one) => one.end).map((one) => [one.id, `${coatsView.title(one)}, ${coatsView.span(one)}`]));
  const names = new Map(allCoats().map((one) => [one.piece, one.piece_name]));
  const { findings } = held;
  redraw(elements.findings, [findings, [...names]], () => findings.map((finding) => card(finding, names.get(finding.piece) ?? "")));
  show(elements.findingsNone, findings.length === 0);
  redraw(elements.defectsAll, held.defects.map(({ key }) => key), () => held.defects.map(defectItem));
}

function choices(select, pairs) {
  const before = select.value;
  redraw(select, pairs, () => [["", strings.dash], ...pairs].map(([value, name]) => make("option", { value }, name)));
  if (pairs.some(([value]) => value === before)) select.value = before;
}

function card(finding, piece) {
  const title = view.findingTitle(finding, piece);
  const button = make("button", { type: "button", "data-key": finding.id, "aria-label": fill(words.behind_named, { name: title }) }, words.behind);
  button.addEventListener("click", () => run(button, () => showReview(finding)));
  const report = make("a", {
    class: "button", href: `/api/pieces/${finding.piece}/report`, target: "_blank", rel: "noopener",
    "aria-label": fill(words.report_named, { name: title }),
  }, words.report);
  return make("li", {},
    make("div", { class: "row" }, drawing(defectNamed(finding.defect), 64),
      make("div", { class: "beside" }, make("strong", {}, title), make("p", { class: "note" }, view.findingNote(finding)))),
    finding.photo ? photo(finding.photo, title) : null,
    make("div", { class: "row" }, button, report));
}

function drawing(defect, width) {
  return defect ? make("img", { class: "drawing", src: drawingOf(defect), alt: "", width }) : null;
}

function photo(id, title) {
  const address = `/api/photos/${encodeURIComponent(id)}`;
  return make("a", { class: "photo", href: address, target: "_blank", rel: "noopener" },
    make("img", { src: address, alt: fill(words.photo_of, { name: title }), width: 240, loading: "lazy" }));
}

// Every finding with its drawing, for whoever does not know the trade's word for it.
function defectItem(defect) {
  const take = make("button", { type: "button", class: "quiet", "aria-label": fill(words.take_named, { name: defect.name }) }, words.take);
  take.addEventListener("click", () => {
    elements.findingForm.elements.defect.value = defect.key;
    elements.defectsOpen.open = false;
    drawDefect();
    elements.findingForm.elements.defect.focus();
  });
  return make("li", {}, make("div", { class: "row" }, drawing(defect, 96), make("div", { class: "beside" }, make("strong", {}, defect.name), make("p", {}, defect.description))), take);
}

async function showReview(finding) {
  show(elements.review, true);
  elements.review.replaceChildren(make("p", {}, words.working));
  const asked = finding.coat ? { coat: finding.coat } : { piece: finding.piece };
  const query = new URLSearchParams({ ...asked, defect: finding.defect });
  const answer = await look(`/api/review?${query}`).catch((fault) => {
    show(elements.review, false);
    throw fault;
  });
  elements.review.replaceChildren(...review(answer));
  elements.review.focus();
}

function review(answer) {
  return [
    make("h2", {}, fill(words.behind_named, { name: answer.finding?.name ?? "" })),
    make("p", { class: "words small" }, answer.words),
    make("h3", {}, words.ranked),
    make("ol", { class: "cards" }, ...answer.ranked.slice(0, SHOWN).map(cause)),
    answer.unknown.length ? make("h3", {}, words.unknown_title) : null,
    make("ul", { class: "plain" }, ...answer.unknown.map((entry) => make("li", {}, entry.words))),
    ...answer.notes.map((note) => make("p", { class: "note" }, note)),
  ].filter(Boolean);
}

function cause(ranked) {
  const rows = ranked.evidence.map(view.evidenceRow);
  return make("li", {},
    make("strong", {}, ranked.cause), make("span", {}, ranked.words),
    rows.length ? table(ranked.cause, [strings.coats.channel, words.this, words.usual], rows) : null,
    ...view.reasons(ranked).map((reason) => make("p", { class: "note" }, reason)));
}

function drawDefect() {
  const defect = defectNamed(elements.findingForm.elements.defect.value);
  redraw(elements.defectShown, [defect?.key], () => (defect ? [drawing(defect, 120), make("p", { class: "beside" }, defect.description)] : []));
}

// From the address: #looking-back/finding/<coat>.
export function chooseCoat(id) {
  drawFindings();
  elements.findingForm.elements.coat.value = id;
  elements.findingForm.elements.coat.focus();
}

async function photoOf(file) {
  if (!file || file.size === 0) return null;
  if (file.size > LARGEST_PHOTO) {
    throw new Refused(fill(words.photo_large, { mb: (file.size / 1e6).toFixed(1) }), "photo");
  }
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return { media_type: file.type, data_base64: btoa(text) };
}

export function setUp() {
  const form = elements.findingForm;
  form.elements.defect.addEventListener("change", drawDefect);
  onSubmit(form, () => {
    const typed = Object.fromEntries(new FormData(form));
    return view.readFinding(typed, allCoats().find((coat) => coat.id === typed.coat));
  }, async ({ asked }) => {
    const photo = await photoOf(form.elements.photo.files[0]);
    const finding = await post("/api/findings", { ...asked, person: prefs.person || null, ...(photo && { photo }) });
    for (const name of ["place", "note", "photo"]) form.elements[name].value = "";
    announce(fill(words.entered, { name: finding.name }));
    await refresh();
    await showReview(finding);
  });
  onCoats(drawFindings);
}

// Flags and cautions: the mark in sight everywhere, the list with its acknowledgement, the signature.
import { announce } from "./announce.js";
import { fault, onSubmit, post, run } from "./act.js";
import { bench } from "./bench.js";
import * as view from "./booth_view.js";
import { make, redraw, say, show } from "./dom.js";
import { prefs, setPref } from "./prefs.js";
import { elements } from "./selectors.js";
import { beep } from "./sound.js";
import { strings } from "./strings.js";
import { clockTime, fill } from "./words.js";

let seen = null;
let waiting = null;

export function drawMark() {
  const mark = view.flagsMark(bench.state.flags);
  elements.flagsMark.dataset.level = mark.level;
  say(elements.flagsMark, mark.text);
  tellNew(bench.state.flags);
}

// A flag that comes up is said aloud once, and sounded where that is wished for.
function tellNew(flags) {
  const fresh = seen === null ? [] : view.newFlags(flags, seen);
  seen = new Set(flags.map((flag) => flag.id));
  if (fresh.length === 0) return;
  announce(fresh.map((flag) => fill(strings.flags.raised, { level: view.level(flag), title: flag.title })).join(". "));
  if (prefs.sound) beep(fresh.some((flag) => flag.level === "stop"));
}

export function drawFlags() {
  const flags = view.inOrder(bench.state.flags);
  redraw(elements.flags, flags, () => flags.map(flagItem));
  show(elements.noFlags, flags.length === 0);
}

function flagItem(flag) {
  const seenBy = flag.acknowledged_by ? make("p", { class: "note" }, fill(strings.flags.seen_by, { person: flag.acknowledged_by })) : null;
  const button = flag.acknowledged_by ? null : make("button", {
    type: "button", "data-key": flag.id, "aria-label": fill(strings.flags.acknowledge_named, { title: flag.title }),
  }, strings.flags.acknowledge);
  button?.addEventListener("click", () => acknowledge(flag.id, button));
  return make("li", { class: `flag ${flag.level}${flag.cleared ? " over" : ""}` },
    make("strong", {}, make("span", { "aria-hidden": "true" }, `${strings.flags.mark[flag.level] ?? "?"} `), view.flagTitle(flag)), make("span", { class: "note" }, view.flagSince(flag)),
    make("span", {}, view.flagWords(flag)),
    flag.rests_on?.length ? make("span", { class: "note" }, fill(strings.flags.rests_on, { words: flag.rests_on.map(view.readingName).join(", ") })) : null,
    seenBy, button);
}

function acknowledge(id, button) {
  if (!prefs.person) {
    waiting = id;
    show(elements.nameForm, true);
    fault(elements.nameForm.elements.person, strings.flags.name_first);
    elements.nameForm.elements.person.focus();
    return;
  }
  run(button, () => post(`/api/flags/${id}/acknowledge`, { person: prefs.person }));
}

export function drawCautions() {
  const { cautions } = bench.state;
  say(elements.cautionsLine, cautions.one_line);
  const items = () => cautions.list.map((caution) => make("li", {}, caution.words));
  redraw(elements.cautionsList, cautions.list, items);
  redraw(elements.signList, cautions.list, items);
  show(elements.sign, cautions.read_by === null);
  show(elements.signed, cautions.read_by !== null);
  if (cautions.read_by) {
    say(elements.signed, fill(strings.cautions.read_by, { person: cautions.read_by, time: clockTime(cautions.read_at) }));
  }
}

function readPerson(form) {
  const person = form.elements.person.value.trim();
  return { person, faults: person ? [] : [["person", strings.mixing.need_name]] };
}

export function setUp() {
  elements.signForm.elements.person.value = prefs.person;
  onSubmit(elements.signForm, readPerson, async ({ person }) => {
    setPref("person", person);
    await post("/api/cautions/read", { person });
  });
  onSubmit(elements.nameForm, readPerson, async ({ person }) => {
    setPref("person", person);
    show(elements.nameForm, false);
    if (waiting) await post(`/api/flags/${waiting}/acknowledge`, { person });
    waiting = null;
  });
}

// What a person does: one act at a time, the button down until it is answered, faults said in place.
import { answered, keyOf, lost } from "./act_key.js";
import { bench, now_ms } from "./bench.js";
import { say, show } from "./dom.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";

const busy = new Set();
let afterwards = async () => {};

// What is done after every act: look at the bench again.
export function afterEveryAct(act) {
  afterwards = act;
}

export function alarm(words) {
  say(elements.alertWords, words);
  show(elements.alert, words !== "");
}

export class Refused extends Error {
  constructor(words, field) {
    super(words);
    this.field = field;
  }
}

// Post a form; raises Refused with the bench's own words.
export async function post(path, form) {
  let answer;
  let body;
  const sent = JSON.stringify(form);
  const act = `${path} ${sent}`;
  try {
    answer = await fetch(path, {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        "Idempotency-Key": `"${keyOf(act, now_ms())}"`,
        ...(bench.state && { "Acts-Seen": String(bench.state.acts) }),
      },
      body: sent,
    });
    body = await answer.json();
  } catch {
    lost(act);
    throw new Refused(strings.link.failed, null);
  }
  answered(act);
  if (!answer.ok) throw new Refused(body.error, body.field);
  return body;
}

// Run an act from a button: a second tap while it runs is nothing.
export async function run(button, act, refused = (fault) => alarm(fault.message)) {
  if (busy.has(button)) return false;
  busy.add(button);
  button.setAttribute("aria-disabled", "true");
  button.classList.add("busy");
  alarm("");
  try {
    await act();
    return true;
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    refused(fault);
    return false;
  } finally {
    await afterwards();
    busy.delete(button);
    button.removeAttribute("aria-disabled");
    button.classList.remove("busy");
  }
}

// The second tap of a double tap is none, though the first may have put another button under the finger.
addEventListener("click", (event) => {
  if (event.detail > 1 && event.target.closest?.("button")) {
    event.preventDefault();
    event.stopPropagation();
  }
}, true);

export function press(button, act) {
  button.addEventListener("click", () => {
    if (button.getAttribute("aria-disabled") !== "true") run(button, act);
  });
}

// --- forms: what is wrong stands beside the field, what was typed stays ---------------------------

function errorOf(field) {
  const form = field.form ?? field.closest("form");
  const label = field.closest("label, fieldset") ?? field;
  const id = `${form.id}-${field.name}-error`;
  let place = document.getElementById(id);
  if (!place) {
    place = document.createElement("p");
    place.id = id;
    place.className = "error";
    label.after(place);
  }
  return place;
}

export function fault(field, words) {
  const place = errorOf(field);
  say(place, words);
  show(place, words !== "");
  if (words) {
    for (let box = field.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", place.id);
  } else {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
}

function clearFaults(form) {
  for (const field of form.querySelectorAll("[aria-invalid]")) fault(field, "");
  say(generalError(form), "");
}

function generalError(form) {
  let place = form.querySelector(":scope > .error.general");
  if (!place) {
    place = document.createElement("p");
    place.className = "error general";
    place.setAttribute("role", "alert");
    form.append(place);
  }
  return place;
}

// The field that a refusal means: one of the first two words of the bench's line, where it knows it, as in
// "air_min_c: got 30, …" or "booth volume-m3 90000 m³ is unusually large…".  Null where it means none.
export function fieldOf(form, refused) {
  const first = refused.message.split(/[^\w-]+/, 2).map((word) => word.replaceAll("-", "_"));
  const named = [refused.field?.split(".")[0], ...first];
  return named.map((name) => name && form.elements.namedItem(name)).find((found) => found instanceof HTMLElement) ?? null;
}

function refuse(form, refused) {
  const field = fieldOf(form, refused);
  if (field) {
    fault(field, refused.message);
    field.focus();
  } else say(generalError(form), refused.message);
}

// `read(form)` gives { faults: [[field name, words]…] } or what `act` is given.
export function onSubmit(form, read, act) {
  form.noValidate = true;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    clearFaults(form);
    const given = read(form);
    if (given.faults?.length) {
      for (const [name, words] of given.faults) fault(form.elements[name], words);
      form.elements[given.faults[0][0]].focus();
      return;
    }
    run(event.submitter ?? form.querySelector("button"), () => act(given), (refused) => refuse(form, refused));
  });
}

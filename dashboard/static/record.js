// The record itself, in Settings: the file and its room, a check, and ways to take it elsewhere.
import { run } from "./act.js";
import { make, redraw, say } from "./dom.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { fill, known, number } from "./words.js";

const words = strings.record;

export function bytes(value) {
  if (!known(value)) return strings.dash;
  const [size, unit] = value >= 1e9 ? [1e9, "GB"] : value >= 1e6 ? [1e6, "MB"] : [1e3, "kB"];
  return `${number(value / size, 1)} ${unit}`;
}

export async function refresh() {
  let store = null;
  try {
    const answer = await fetch("/api/store");
    if (answer.ok) store = await answer.json();
  } catch {
    // said below
  }
  say(elements.storeWords, store
    ? `${fill(words.file, { file: store.file, size: bytes(store.bytes), free: bytes(store.free_bytes) })} ${store.writable ? words.writable : fill(words.not_writable, { words: store.words })}`
    : words.unknown);
  const warnings = store?.warnings ?? [];
  redraw(elements.storeWarnings, warnings, () => warnings.map((text) => make("li", {}, make("span", { "aria-hidden": "true" }, `${strings.flags.mark.caution} `), text)));
}

async function check() {
  say(elements.storeChecked, words.checking);
  redraw(elements.storeFound, [], () => []);
  try {
    const answer = await fetch("/api/store/check");
    const body = await answer.json();
    if (!answer.ok) throw new Error(body.error);
    say(elements.storeChecked, body.sound ? words.sound : words.unsound);
    redraw(elements.storeFound, body.found, () => body.found.map((one) => make("li", {}, `${words.level[one.level] ?? one.level}: ${one.words}`)));
  } catch (fault) {
    say(elements.storeChecked, fill(words.check_failed, { why: fault.message }));
  }
}

// A download by address, so that the browser says itself how far it has come.
function exportAddress() {
  const typed = Object.fromEntries(new FormData(elements.exportForm));
  const query = new URLSearchParams({ format: typed.format });
  for (const name of ["from", "to"]) if (typed[name]) query.set(name, typed[name]);
  if (typed.format === "csv") query.set("kind", typed.kind);
  return `/api/export?${query}`;
}

function drawExport() {
  elements.exportForm.elements.kind.closest("label").hidden = elements.exportForm.elements.format.value !== "csv";
  elements.exportLink.href = exportAddress();
}

export function setUp() {
  elements.storeCheck.addEventListener("click", () => run(elements.storeCheck, check));
  elements.exportForm.addEventListener("submit", (event) => event.preventDefault());
  elements.exportForm.addEventListener("input", drawExport);
  drawExport();
}

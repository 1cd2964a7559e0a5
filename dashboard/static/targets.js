// Targets on the shelf: typed as Munsell notation or as Lab for a light, and the shades of a model.
import { onSubmit, post } from "./act.js";
import { make, redraw, say, show, table } from "./dom.js";
import { elements } from "./selectors.js";
import { besideSwatches } from "./sheet.js";
import { onStock, stock } from "./stock.js";
import { strings } from "./strings.js";
import { readTyped, shadeRows, targetFacts } from "./targets_view.js";
import { fill, sentence } from "./words.js";

const words = strings.target;

export const textsOf = (form) => Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));

// What was set, how sure it is, and what the bench noted about it.
export const setWords = (target) => [fill(words.set, { facts: `${target.name}, ${targetFacts(target)}` }), target.note ? `${sentence(target.note)}.` : ""].filter(Boolean).join(" ");

async function refreshShades() {
  if (elements.shelfPlace.hidden) return;
  try {
    const answer = await fetch("/api/variants");
    if (answer.ok) drawShades(await answer.json());
  } catch {
    // the connection line says so
  }
}

function drawShades(models) {
  const names = [...new Set([...models.map(({ name }) => name), ...stock.targets.map(({ name }) => name)])];
  redraw(elements.shadeNames, names, () => names.map((value) => make("option", { value })));
  const shown = models.map((model) => ({ name: model.name, rows: shadeRows(model) }));
  redraw(elements.shades, shown, () => shown.flatMap(({ name, rows }) => [
    make("h3", {}, fill(words.shades, { name })), besideSwatches(rows),
    table(fill(words.shades, { name }), [strings.sheet.target, "L* / a* / b*", fill(strings.sheet.beside_de, { name: rows[0].name }), words.last],
      rows.map((row) => [row.name, row.lab, row.de, row.last])),
  ]));
}

export function setUp() {
  const form = elements.shelfTargetForm;
  form.addEventListener("change", () => {
    const lab = form.elements.how.value === "lab";
    show(elements.shelfTargetLab, lab);
    show(elements.shelfTargetMunsell, !lab);
  });
  onSubmit(form, () => readTyped(textsOf(form)), async ({ asked }) => {
    say(elements.shelfTargetAnswer, "");
    const target = await post("/api/targets", asked);
    for (const name of ["name", "munsell", "l", "a", "b"]) form.elements[name].value = "";
    say(elements.shelfTargetAnswer, setWords(target));
  });
  onStock(refreshShades);
}

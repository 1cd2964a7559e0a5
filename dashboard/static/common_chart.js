// A common chart: its patches by name, as published, put on the list of the patches to measure.
import { onSubmit } from "./act.js";
import { putOnList } from "./chart.js";
import { commonPatches } from "./chart_view.js";
import { make, redraw, say } from "./dom.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { fill } from "./words.js";

const words = strings.chart;
const { commonForm, commonChart } = elements;
let charts = [];

const chartInHand = () => charts.find(({ name }) => name === commonForm.elements.chart.value);

export async function refresh() {
  if (!commonChart.open || charts.length > 0) return;
  try {
    const answer = await fetch("/api/charts");
    if (!answer.ok) return;
    charts = await answer.json();
  } catch {
    return; // the connection line says so
  }
  choices(commonForm.elements.chart, charts.map(({ name }) => [name, name.toUpperCase()]));
  drawPatches();
}

function choices(select, pairs) {
  redraw(select, pairs, () => pairs.map(([value, text]) => make("option", { value }, text)));
}

function drawPatches() {
  const { patches, source } = chartInHand();
  say(elements.commonSource, fill(words.source, { source }));
  choices(commonForm.elements.patch, [["", fill(words.all_of, { n: patches.length })], ...patches.map(({ name }) => [name, name])]);
}

export function setUp() {
  commonChart.addEventListener("toggle", refresh);
  commonForm.elements.chart.addEventListener("change", drawPatches);
  onSubmit(commonForm, (form) => ({ chart: chartInHand(), patch: form.elements.patch.value }), async ({ chart, patch }) => {
    if (!chart) return;
    const added = commonPatches(chart, patch);
    putOnList(added, "patch");
    say(elements.commonKept, fill(words.added, { name: patch || fill(words.all_of, { n: added.length }) }));
  });
}

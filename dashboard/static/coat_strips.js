// The strips of one coat, each before the range that the owner's good coats usually kept to.
import { draw, make, redraw, table } from "./dom.js";
import * as evenings from "./evenings_view.js";
import { figure } from "./findings_view.js";
import { prefs } from "./prefs.js";
import { strings } from "./strings.js";
import * as view from "./strip_view.js";
import { channelValue, fill, known, number } from "./words.js";

const words = strings.evenings;
const [W, H, LEFT, RIGHT, TOP, BOTTOM] = [640, 200, 70, 10, 10, 28];
const READABLE = Object.keys(strings.coats.name);

function shownAs(channel) {
  if (READABLE.includes(channel.channel)) return (value) => channelValue(channel.channel, value, prefs);
  return (value) => figure(value, channel.unit);
}

// Asks for the strips and draws them into `place`; a coat that was left meanwhile draws nothing.
export async function drawCoatStrips(place, coat, stillOpen) {
  let strips;
  try {
    const answer = await fetch(`/api/review/strips?coat=${encodeURIComponent(coat)}`);
    if (!answer.ok) throw new Error(answer.statusText);
    strips = await answer.json();
  } catch {
    if (stillOpen()) redraw(place, "none", () => [make("p", {}, words.strips_none)]);
    return;
  }
  if (!stillOpen()) return;
  const held = strips.channels.filter((channel) => channel.mean.some(known));
  redraw(place, [strips, prefs], () => (held.length
    ? [make("h3", {}, words.strips), make("div", { class: "columns wide-columns" }, ...held.map((channel) => figureOf(channel)))]
    : [make("p", {}, words.strips_none)]));
}

function figureOf(channel) {
  const show = shownAs(channel);
  return make("figure", {},
    make("figcaption", {}, make("h4", {}, channel.words)), chart(channel, show),
    make("p", { class: "note" }, evenings.stripSummary(channel, show)),
    make("details", { class: "no-print" }, make("summary", {}, `${strings.booth.table}: ${channel.words}`), rows(channel, show)));
}

function chart(channel, show) {
  const { at_min: at, mean } = channel;
  const usual = [channel.usual_low, channel.usual_high].filter(known);
  // Humidity is shown in whole per cent: no finer ticks than that.
  const scale = view.scaleOf([...mean, ...usual], [], channel.channel === "relative_humidity" ? 6 : 2);
  const end = Math.max(at.at(-1) ?? 0, 0.1);
  const x = (minute) => view.place(minute, 0, end, LEFT, W - RIGHT);
  const y = (value) => view.place(value, scale.low, scale.high, H - BOTTOM, TOP);
  const svg = draw("svg", { viewBox: `0 0 ${W} ${H}`, class: "strip", "aria-hidden": "true" });
  if (usual.length === 2) {
    svg.append(draw("rect", { x: LEFT, y: y(usual[1]), width: W - LEFT - RIGHT, height: Math.max(y(usual[0]) - y(usual[1]), 2), class: "band usual" }));
  }
  const grid = draw("g", { class: "grid" });
  for (let v = scale.low; v <= scale.high + 1e-9; v += scale.step) {
    grid.append(draw("path", { d: `M${LEFT} ${y(v).toFixed(1)}H${W - RIGHT}` }),
      draw("text", { x: LEFT - 5, y: y(v) + 5, "text-anchor": "end" }, show(v)));
  }
  for (const part of [0, 0.5, 1]) {
    grid.append(draw("text", { x: Math.min(x(end * part), W - 30), y: H - 8, "text-anchor": part ? "middle" : "start" }, fill(words.minute, { min: number(end * part, end < 10 ? 1 : 0) })));
  }
  const runs = view.runs(at.map((minute, i) => [minute, mean[i]]), Infinity);
  svg.append(grid, draw("path", { class: "line s0", d: view.linePath(runs, x, y) }));
  return svg;
}

function rows(channel, show) {
  const step = Math.max(1, Math.ceil(channel.at_min.length / 12));
  const picked = channel.at_min.map((at, i) => [fill(words.minute, { min: number(at, 1) }), known(channel.mean[i]) ? show(channel.mean[i]) : strings.dash]);
  return table(channel.words, [strings.mixing.time, strings.coats.mean], picked.filter((_, i) => i % step === 0));
}

// The booth's strip charts: filled from the journal, carried on by live readings.
import { bench } from "./bench.js";
import { draw, make, redraw, say, set, show, table } from "./dom.js";
import { prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import * as view from "./strip_view.js";
import { clockTime, fill, channelValue, known } from "./words.js";

const words = strings.booth;
const CHANNELS = ["air_temperature", "relative_humidity", "part_temperature", "film_margin"];
const LIVE_KEYS = {
  air_temperature: (booth) => booth.air_c, relative_humidity: (booth) => booth.rh_pct,
  part_temperature: (booth) => booth.part_c,
};
const CHARTS = [
  { id: "margin", title: words.chart_margin, series: ["margin_to_dew_point", "film_margin"], always: [0, 5],
    bands: [{ to: 0, level: "stop", words: words.band_stop, v: 0 }, { from: 0, to: 3, level: "caution", words: words.band_caution, v: 3 }] },
  { id: "temperature", title: words.chart_temperature, series: ["air_temperature", "part_temperature", "dew_point"], always: [], bands: [] },
  { id: "humidity", title: words.chart_humidity, series: ["relative_humidity"], always: [40, 80],
    bands: [{ from: "blush", level: "caution", words: words.band_damp }] },
];
const [W, H, LEFT, RIGHT, TOP, BOTTOM] = [640, 240, 62, 10, 10, 28];
const HOUR_MS = 3_600_000;
const POINTS = 240;

let hours = 2;
let columns = { at: [], channels: [] };
let live = {};
let asked_ms = -Infinity;
let built = null;

function build() {
  built = Object.fromEntries(CHARTS.map((chart) => {
    const svg = draw("svg", { viewBox: `0 0 ${W} ${H}`, class: "strip", "aria-hidden": "true" });
    const parts = { bands: draw("g"), grid: draw("g", { class: "grid" }), series: {} };
    svg.append(parts.bands, parts.grid);
    chart.series.forEach((name, at) => {
      parts.series[name] = { range: draw("path", { class: `range s${at}` }), line: draw("path", { class: `line s${at}` }) };
      svg.append(parts.series[name].range, parts.series[name].line);
    });
    parts.summary = make("ul", { class: "legend stacked" });
    parts.rows = make("div");
    parts.details = make("details", {}, make("summary", {}, `${words.table}: ${chart.title}`), parts.rows);
    parts.details.addEventListener("toggle", () => drawStrips());
    elements.strips.append(make("figure", { class: "sheet" },
      make("figcaption", {}, make("h3", {}, chart.title)), svg, parts.summary, parts.details));
    return [chart.id, parts];
  }));
}

function now_ms() {
  return Date.parse(bench.state.at);
}

// Ask the journal for the window; what comes live meanwhile is kept and follows.
export async function refill() {
  if (!bench.state) return;
  const to_ms = now_ms() + 1000;
  asked_ms = performance.now();
  const query = new URLSearchParams(CHANNELS.map((name) => ["channel", name]));
  query.set("from", new Date(to_ms - hours * HOUR_MS).toISOString());
  query.set("to", new Date(to_ms).toISOString());
  query.set("points", POINTS);
  try {
    const answer = await fetch(`/api/strip?${query}`);
    if (!answer.ok) return;
    columns = await answer.json();
    const kept_from = to_ms - 10 * 60_000;
    for (const name of Object.keys(live)) live[name] = live[name].filter(([at]) => at > kept_from);
    drawStrips();
  } catch {
    // the connection line says so; the next visit asks again
  }
}

export function takeLive(booth) {
  const put = (name, at, value) => {
    live[name] ??= [];
    if (known(value) && !(live[name].at(-1)?.[0] >= at)) live[name].push([at, value, value, value]);
    if (live[name].length > 4000) live[name].splice(0, 1000);
  };
  for (const [name, pick] of Object.entries(LIVE_KEYS)) {
    const channel = pick(booth);
    if (channel && !channel.silent) put(name, Date.parse(channel.at), channel.value);
  }
  if (booth.air_c) {
    put("dew_point", Date.parse(booth.air_c.at), booth.dew_point_c);
    put("margin_to_dew_point", Date.parse(booth.air_c.at), booth.margin_k);
  }
}

function seriesOf(name, from_ms) {
  const own = bench.state.calibration.device;
  const channel = view.chooseSeries(columns.channels, name, own);
  const points = view.withLive(view.pointsOf(columns.at, channel), live[name] ?? [], from_ms);
  return { channel: name, points, device: channel?.device };
}

export function drawStrips() {
  if (!bench.state || document.hidden || elements.boothPlace.hidden) return;
  if (!built) build();
  const to_ms = now_ms();
  const from_ms = to_ms - hours * HOUR_MS;
  for (const chart of CHARTS) drawChart(chart, built[chart.id], from_ms, to_ms);
  // Gaps fill from the journal, and the live tail is thinned by it, about once a minute.
  if (performance.now() - asked_ms > 60_000) refill();
}

function drawChart(chart, parts, from_ms, to_ms) {
  const series = chart.series.map((name) => seriesOf(name, from_ms));
  const gap_ms = Math.max((3 * hours * HOUR_MS) / POINTS, 2 * (bench.state.booth.silent_after_ms ?? 0));
  const values = series.flatMap(({ points }) => points.flatMap(([, v, low, high]) => [v, low, high]));
  const scale = view.scaleOf(values, chart.always);
  const x = (at) => view.place(at, from_ms, to_ms, LEFT, W - RIGHT);
  const y = (value) => view.place(value, scale.low, scale.high, H - BOTTOM, TOP);
  drawGrid(parts.grid, chart, scale, from_ms, to_ms, x, y);
  drawBands(parts.bands, chart, scale, y);
  for (const { channel, points } of series) {
    const made = view.runs(points, gap_ms);
    set(parts.series[channel].line, { d: view.linePath(made, x, y) });
    set(parts.series[channel].range, { d: view.rangePath(made, x, y) });
  }
  const said = series.map(({ channel, points }) => view.summary(channel, points, prefs, gap_ms, to_ms));
  redraw(parts.summary, said, () => said.map((text, at) => make("li", {}, key(at), text)));
  if (parts.details.open) drawTable(parts.rows, chart, series);
}

function key(at) {
  const svg = draw("svg", { viewBox: "0 0 40 12", class: "key", "aria-hidden": "true" });
  svg.append(draw("path", { d: "M2 6H38", class: `line s${at}` }));
  return svg;
}

function drawTable(place, chart, series) {
  const rows = view.tableRows(series, prefs);
  redraw(place, rows, () => [table(chart.title, [strings.mixing.time, ...series.map((s) => words.series[s.channel])], rows)]);
}

function drawGrid(group, chart, scale, from_ms, to_ms, x, y) {
  const tick_ms = hours > 4 ? 2 * HOUR_MS : HOUR_MS / 2;
  const first_ms = Math.ceil(from_ms / tick_ms) * tick_ms;
  redraw(group, [scale, Math.round(from_ms / 10_000), prefs.temperature], () => {
    const made = [];
    for (let v = scale.low; v <= scale.high + 1e-9; v += scale.step) {
      const label = channelValue(chart.series[0], v, prefs, scale.step < 1 ? 1 : 0);
      made.push(draw("path", { d: `M${LEFT} ${y(v).toFixed(1)}H${W - RIGHT}` }),
        draw("text", { x: LEFT - 5, y: y(v) + 5, "text-anchor": "end" }, label));
    }
    for (let at = first_ms; at <= to_ms; at += tick_ms) {
      made.push(draw("path", { d: `M${x(at).toFixed(1)} ${TOP}V${H - BOTTOM}` }),
        draw("text", { x: Math.min(x(at), W - 30), y: H - 8, "text-anchor": "middle" }, clockTime(at)));
    }
    return made;
  });
}

function drawBands(group, chart, scale, y) {
  const blush = bench.state.film?.blush_rh_pct ?? 85;
  const bands = chart.bands.map((band) => {
    const from = band.from === "blush" ? blush : band.from;
    return { ...band, low: Math.max(from ?? scale.low, scale.low), high: Math.min(band.to ?? scale.high, scale.high), mark: band.v ?? blush };
  }).filter((band) => band.high > band.low);
  // The scale is part of the mark: a band must move with the grid, or it says another limit.
  redraw(group, [bands, scale, prefs.temperature], () => bands.flatMap((band) => {
    const [top, bottom] = [y(band.high), y(band.low)];
    const v = channelValue(chart.series[0], band.mark, prefs, 0);
    return [
      draw("rect", { x: LEFT, y: top, width: W - LEFT - RIGHT, height: bottom - top, class: `band ${band.level}` }),
      draw("text", { x: LEFT + 6, y: Math.min(bottom - 6, top + 18), class: "band-words" }, fill(band.words, { v })),
    ];
  }));
}

export function setUp() {
  const choose = (chosen) => {
    hours = chosen;
    elements.span2.setAttribute("aria-pressed", String(hours === 2));
    elements.span12.setAttribute("aria-pressed", String(hours === 12));
    columns = { at: [], channels: [] };
    refill();
  };
  elements.span2.addEventListener("click", () => choose(2));
  elements.span12.addEventListener("click", () => choose(12));
}

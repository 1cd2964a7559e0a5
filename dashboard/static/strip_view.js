// Strip charts: columns from the journal and live points joined, scales, lines with gaps, a summary.  Pure.
import { strings } from "./strings.js";
import { channelValue, clockTime, fill, known, many } from "./words.js";

const say = strings.booth;

// One device a channel: the bench's own board where it has it, else the device with most readings.
export function chooseSeries(channels, name, ownDevice) {
  const found = channels.filter((c) => c.channel === name);
  const held = (c) => c.mean.filter(known).length;
  const own = found.find((c) => c.device === ownDevice && held(c) > 0);
  return own ?? found.sort((one, other) => held(other) - held(one))[0] ?? null;
}

// A channel's columns as [ms, value, low, high] points; null values stay as gaps.
export function pointsOf(at, channel) {
  if (!channel) return [];
  return at.map((iso, i) => [Date.parse(iso), channel.mean[i], channel.low[i], channel.high[i]]);
}

// Live points follow what the journal knew; the window moves with the newest.
export function withLive(points, live, from_ms) {
  const last = points.filter(([, value]) => known(value)).at(-1)?.[0] ?? -Infinity;
  const newer = live.filter(([at]) => at > last);
  const kept = newer.length > 0 ? points.filter(([at]) => at <= last) : points;
  return [...kept, ...newer].filter(([at]) => at >= from_ms);
}

// Runs of points without a gap: split at nulls and where more than `gap_ms` lies between.
export function runs(points, gap_ms) {
  const made = [];
  let run = [];
  for (const point of points) {
    const broken = !known(point[1]) || (run.length > 0 && point[0] - run.at(-1)[0] > gap_ms);
    if (broken && run.length > 0) {
      made.push(run);
      run = [];
    }
    if (known(point[1])) run.push(point);
  }
  if (run.length > 0) made.push(run);
  return made;
}

// A scale that holds all values and `always`, with round steps.
export function scaleOf(values, always = [], least = 2) {
  const all = [...values.filter(known), ...always];
  if (all.length === 0) return { low: 0, high: 1, step: 1 };
  let [low, high] = [Math.min(...all), Math.max(...all)];
  if (high - low < least) [low, high] = [(low + high - least) / 2, (low + high + least) / 2];
  const step = [0.5, 1, 2, 5, 10, 20, 50, 100].find((size) => (high - low) / size <= 6) ?? 200;
  return { low: Math.floor(low / step) * step, high: Math.ceil(high / step) * step, step };
}

export function place(value, low, high, from, to) {
  return from + ((value - low) / (high - low || 1)) * (to - from);
}

// An SVG path for the runs; x and y are functions.
export function linePath(madeRuns, x, y) {
  return madeRuns.map((run) => {
    const steps = run.map(([at, value]) => `${x(at).toFixed(1)} ${y(value).toFixed(1)}`);
    return steps.length === 1 ? `M${steps[0]}h1` : `M${steps.join("L")}`;
  }).join("");
}

// Lowest to highest within each bucket, as a closed shape.
export function rangePath(madeRuns, x, y) {
  return madeRuns.filter((run) => run.length > 1).map((run) => {
    const over = run.map(([at, v, , high]) => `${x(at).toFixed(1)} ${y(high ?? v).toFixed(1)}`);
    const under = [...run].reverse().map(([at, v, low]) => `${x(at).toFixed(1)} ${y(low ?? v).toFixed(1)}`);
    return `M${over.join("L")}L${under.join("L")}Z`;
  }).join("");
}

// Change over the last quarter of the readings, in words.
export function trend(points, still) {
  const held = points.filter(([, value]) => known(value));
  if (held.length < 4) return say.steady;
  const change = held.at(-1)[1] - held[Math.floor((held.length - 1) * 0.75)][1];
  return Math.abs(change) < still ? say.steady : change > 0 ? say.rising : say.falling;
}

// `to_ms` is the present: a series that ended long before it is never said to be so "now".
export function summary(channel, points, prefs, gap_ms, to_ms) {
  const name = say.series[channel] ?? channel;
  const values = points.map(([, value]) => value).filter(known);
  if (values.length === 0) return fill(say.chart_empty, { name });
  const show = (value) => channelValue(channel, value, prefs);
  const gaps = runs(points, gap_ms).length - 1;
  const last_ms = points.findLast(([, value]) => known(value))[0];
  const words = fill(to_ms - last_ms > gap_ms ? say.chart_summary_old : say.chart_summary, {
    name, now: show(values.at(-1)), time: clockTime(last_ms), trend: trend(points, channel === "relative_humidity" ? 1 : 0.2),
    low: show(Math.min(...values)), high: show(Math.max(...values)),
  });
  return gaps > 0 ? `${words} ${many(say.chart_gaps, gaps)}` : words;
}

// Some ten rows for the table behind a chart: time and each series' value.
export function tableRows(series, prefs, rows = 12) {
  const times = series.find((entry) => entry.points.length > 0)?.points.map(([at]) => at) ?? [];
  const step = Math.max(1, Math.ceil(times.length / rows));
  return times.filter((_, i) => (times.length - 1 - i) % step === 0).reverse().map((at) => [
    clockTime(at),
    ...series.map(({ channel, points }) => {
      const found = points.reduce((near, point) => (known(point[1])
        && Math.abs(point[0] - at) < Math.abs((near?.[0] ?? Infinity) - at) ? point : near), null);
      return found && Math.abs(found[0] - at) <= 120_000 ? channelValue(channel, found[1], prefs) : strings.dash;
    }),
  ]);
}

// Draws the a*b* plane and the L* bar; only what moved is touched.
import { contour } from "./colour_difference.js";
import { draw, redraw, say, set } from "./dom.js";
import { lightnessSummary, path, planePoint, planeReach, planeSummary } from "./plane_view.js";
import { elements } from "./selectors.js";

const SIZE = 400;
let parts = null;

function build() {
  const names = ["tolerance", "trail", "spread", "next", "target", "live"];
  const tags = { next: "path", live: "circle" };
  parts = Object.fromEntries(names.map((name) => [name, draw(tags[name] ?? "path", { class: `${name}-mark` })]));
  parts.grid = draw("g", { class: "grid" });
  parts.dots = draw("g", { class: "dots" });
  set(parts.live, { r: 9 });
  elements.plane.append(parts.grid, parts.tolerance, parts.spread, parts.trail, parts.dots, parts.next, parts.target, parts.live);
  parts.barScale = draw("g", { class: "grid" });
  parts.barBand = draw("rect", { class: "tolerance-mark", x: 40, width: 30 });
  parts.barTarget = draw("path", { class: "target-mark" });
  parts.barLive = draw("path", { class: "live-mark" });
  elements.lBar.append(parts.barScale, parts.barBand, parts.barTarget, parts.barLive);
}

function grid(target, reach) {
  const step = [1, 2, 5, 10, 20, 50].find((size) => reach / size <= 5) ?? 100;
  const lines = [];
  for (let a = Math.ceil((target[1] - reach) / step) * step; a <= target[1] + reach; a += step) {
    const [x] = planePoint([a, 0], target, reach, SIZE);
    lines.push(draw("path", { d: `M${x.toFixed(1)} 0V${SIZE}` }), draw("text", { x: x + 3, y: SIZE - 5 }, String(a)));
  }
  for (let b = Math.ceil((target[2] - reach) / step) * step; b <= target[2] + reach; b += step) {
    const [, y] = planePoint([0, b], target, reach, SIZE);
    lines.push(draw("path", { d: `M0 ${y.toFixed(1)}H${SIZE}` }), draw("text", { x: 3, y: y - 3 }, String(b)));
  }
  return lines;
}

let shape = { key: null, reach: 5, tolerance: "", spread: null };

function onPlane(lab, target, reach) {
  return planePoint([lab[1], lab[2]], target, reach, SIZE);
}

const diamond = ([x, y], r) => path([[x, y - r], [x + r, y], [x, y + r], [x - r, y]], true);
const cross = ([x, y], r) => `M${x} ${y - r}V${y + r}M${x - r} ${y}H${x + r}`;

// What changes only with target, readings or scale.
function still(target, swatches, live) {
  const tolerance = target.tolerance_de00;
  const points = swatches.filter((s) => s.lab).map((s) => [s.lab[1], s.lab[2]]);
  if (live) points.push([live.lab[1], live.lab[2]]);
  const reach = planeReach(target.lab, points, tolerance);
  const key = [target.id, tolerance, swatches.at(-1)?.id, swatches.length, reach];
  if (JSON.stringify(key) === shape.key) return;
  shape = { key: JSON.stringify(key), reach, spread: null };
  const at = (lab) => onPlane(lab, target.lab, reach);
  const line = contour(target.lab, tolerance).map((point) => planePoint(point, target.lab, reach, SIZE));
  set(parts.tolerance, { d: path(line, true) });
  set(parts.target, { d: cross([SIZE / 2, SIZE / 2], 12) });
  redraw(parts.grid, key, () => grid(target.lab, reach));
  const read = swatches.filter((s) => s.lab);
  set(parts.trail, { d: path(read.map((s) => at(s.lab))) });
  redraw(parts.dots, key, () => read.flatMap((s, n) => {
    const [x, y] = at(s.lab);
    return [draw("circle", { cx: x, cy: y, r: 5 }), draw("text", { x: x + 8, y: y - 6 }, String(n + 1))];
  }));
}

function moving(target, live, predicted) {
  const { reach } = shape;
  set(parts.live, { visibility: live ? "visible" : "hidden" });
  set(parts.next, { d: predicted ? diamond(onPlane(predicted, target.lab, reach), 9) : "" });
  if (!live) {
    set(parts.spread, { d: "" });
    return;
  }
  const [x, y] = onPlane(live.lab, target.lab, reach);
  set(parts.live, { cx: x.toFixed(1), cy: y.toFixed(1) });
  // The spread's outline is worked out again only when it would look different.
  const key = `${live.u95_de00.toFixed(1)} ${live.lab.map((value) => Math.round(value / 4)).join(" ")} ${reach}`;
  if (shape.spread?.key !== key) {
    const points = contour(live.lab, live.u95_de00, 24).map(([a, b]) => [a - live.lab[1], b - live.lab[2]]);
    const scale = SIZE / 2 / reach;
    const line = points.map(([a, b]) => [a * scale, -b * scale]);
    shape.spread = { key };
    set(parts.spread, { d: path(line, true) });
  }
  set(parts.spread, { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` });
}

function lightnessBar(target, live) {
  const span = 10;
  const scale = SIZE / (2 * span);
  const y = (l) => Math.min(SIZE - 4, Math.max(4, SIZE / 2 - (l - target.lab[0]) * scale));
  redraw(parts.barScale, [target.lab[0]], () => {
    const lines = [];
    for (let l = Math.ceil(target.lab[0] - span); l <= target.lab[0] + span; l += 1) {
      const far = l % 5 === 0;
      lines.push(draw("path", { d: `M${far ? 34 : 40} ${y(l)}H70` }));
      if (far) lines.push(draw("text", { x: 4, y: y(l) + 5 }, String(l)));
    }
    return lines;
  });
  const sL = 1 + (0.015 * (target.lab[0] - 50) ** 2) / Math.sqrt(20 + (target.lab[0] - 50) ** 2);
  const half = target.tolerance_de00 * sL * scale;
  set(parts.barBand, { y: SIZE / 2 - half, height: 2 * half });
  set(parts.barTarget, { d: `M34 ${SIZE / 2}H76` });
  const at = live ? y(live.lab[0]) : 0;
  set(parts.barLive, { d: live ? `M70 ${at}L86 ${at - 9}V${at + 9}Z` : "" });
}

export function drawPlane(target, live, swatches, predicted) {
  if (!parts) build();
  elements.plane.classList.toggle("empty", !target);
  say(elements.planeWords, planeSummary(target, live));
  say(elements.lWords, lightnessSummary(target, live));
  if (!target) return;
  still(target, swatches, live);
  moving(target, live, predicted);
  lightnessBar(target, live);
}

// Where things stand on the a*b* plane and the L* bar: scales and words.  Pure.
import { ciede2000 } from "./colour_difference.js";
import { strings } from "./strings.js";
import { fill, number } from "./words.js";

// The half width of the plane round the target that holds all points, in steps that keep it still.
export function planeReach(target, points, tolerance) {
  const farthest = points.reduce(
    (far, [a, b]) => Math.max(far, Math.abs(a - target[1]), Math.abs(b - target[2])),
    tolerance * 3,
  );
  return [3, 5, 8, 12, 20, 30, 50, 80, 130].find((reach) => reach >= farthest * 1.1) ?? 260;
}

// From [a, b] to [x, y] in a square of `size`, the target in its middle, b* upwards.
export function planePoint([a, b], target, reach, size) {
  const scale = size / 2 / reach;
  return [size / 2 + (a - target[1]) * scale, size / 2 - (b - target[2]) * scale];
}

export function path(points, closed = false) {
  if (points.length === 0) return "";
  return `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}${closed ? "Z" : ""}`;
}

export function planeSummary(target, live) {
  if (!target || !live) return strings.mixing.plane_none;
  const flat = [target.lab[0], live.lab[1], live.lab[2]];
  const inside = ciede2000(target.lab, flat) <= target.tolerance_de00;
  return fill(strings.mixing.plane_summary, {
    ta: number(target.lab[1], 1),
    tb: number(target.lab[2], 1),
    a: number(live.lab[1], 1),
    b: number(live.lab[2], 1),
    place: inside ? strings.mixing.plane_inside : strings.mixing.plane_outside,
  });
}

export function lightnessSummary(target, live) {
  if (!target || !live) return strings.mixing.plane_none;
  const d = live.lab[0] - target.lab[0];
  const size = number(Math.abs(d), 1);
  const words = Math.abs(d) < 0.05 ? strings.mixing.l_same
    : fill(d > 0 ? strings.mixing.l_lighter : strings.mixing.l_darker, { d: size });
  return fill(strings.mixing.l_summary, {
    target: number(target.lab[0], 1), mix: number(live.lab[0], 1), words,
  });
}

// CIEDE2000 against the 34 pairs of Sharma, Wu, Dalal, Color Res. Appl. 30 (2005), Table 1, as they
// stand in tests/tables (four decimals, so half a unit of the fourth); its contour against itself.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";
import { ciede2000, contour } from "../dashboard/static/colour_difference.js";
import { lightnessSummary, path, planePoint, planeReach, planeSummary } from "../dashboard/static/plane_view.js";

const table = readFileSync(new URL("tables/sharma2005_ciede2000.csv", import.meta.url), "utf-8");
const lines = table.trim().split("\n").filter((line) => !line.startsWith("#"));
const heads = lines[0].split(",");
const rows = lines.slice(1).map((line) => Object.fromEntries(line.split(",").map((cell, at) => [heads[at], Number(cell)])));
const column = (row, at) => Object.values(row)[at];

test("the published pairs", () => {
  assert.equal(rows.length, 34);
  const first = heads.findIndex((head) => /^l_?1$/i.test(head));
  const last = heads.length - 1;
  for (const row of rows) {
    const one = [0, 1, 2].map((at) => column(row, first + at));
    const other = [3, 4, 5].map((at) => column(row, first + at));
    const wanted = row.de00 ?? column(row, last);
    assert.ok(Math.abs(ciede2000(one, other) - wanted) <= 5e-5, `${one} / ${other}: ${ciede2000(one, other)}, ${wanted}`);
    assert.equal(ciede2000(one, other).toFixed(9), ciede2000(other, one).toFixed(9));
  }
});

test("every point of the contour is as far as asked, at the same lightness", () => {
  for (const lab of [[48, -10, -20], [50, 0, 0], [80, 2, 90], [30, 50, 30], [20, 5, -60]]) {
    for (const de of [0.5, 1, 3]) {
      for (const [a, b] of contour(lab, de, 24)) {
        assert.ok(Math.abs(ciede2000(lab, [lab[0], a, b]) - de) < 1e-6, `${lab} ${de}`);
      }
    }
  }
});

test("the plane has the target in its middle, redder to the right, yellower up", () => {
  const target = [50, 10, -20];
  assert.deepEqual(planePoint([10, -20], target, 5, 400), [200, 200]);
  assert.deepEqual(planePoint([15, -15], target, 5, 400), [400, 0]);
  assert.equal(planeReach(target, [], 1), 5);
  assert.equal(planeReach(target, [[10, 30]], 1), 80);
  assert.equal(path([[1, 2], [3, 4]], true), "M1.0 2.0L3.0 4.0Z");
  assert.equal(path([]), "");
});

test("plane and bar say in words what they draw", () => {
  const target = { lab: [50, 10, -20], tolerance_de00: 1 };
  assert.match(planeSummary(target, { lab: [58, 10.1, -20.1] }), /inside/);
  assert.match(planeSummary(target, { lab: [50, 20, -20] }), /outside/);
  assert.match(lightnessSummary(target, { lab: [47.5, 10, -20] }), /2\.5 darker/);
  assert.match(lightnessSummary(target, null), /No reading/);
});

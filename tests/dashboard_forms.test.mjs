// What the forms of calibration, mixing and shelf take and say.
import assert from "node:assert/strict";
import test from "node:test";
import * as chart from "../dashboard/static/chart_view.js";
import * as more from "../dashboard/static/more_view.js";
import { holdsWords, readTile } from "../dashboard/static/instruments_view.js";

test("a pasted chart: Lab by spaces, tabs, semicolons or commas; names of several words", () => {
  const lines = ["dark rope 61.2 6.4 24.8", "brick\t40\t30,5\t20", "grass;50;-30;25", "slate, 51.3, 0, -1.2", "A1,20.5,1.0,−2.0"];
  const { patches } = chart.readChart(lines.join("\n"));
  assert.deepEqual(patches.map((patch) => patch.name), ["dark rope", "brick", "grass", "slate", "A1"]);
  assert.deepEqual(patches.map((patch) => patch.lab_d50_2), [[61.2, 6.4, 24.8], [40, 30.5, 20], [50, -30, 25], [51.3, 0, -1.2], [20.5, 1, -2]]);
});

test("a pasted chart of spectra has its wavelengths in the first line; per cent becomes a fraction", () => {
  const { patches } = chart.readChart("name 400 450 500 550 600 650\nrope 10 20 30 40 50 60\nold brick 5 5 5 5 40 45");
  assert.deepEqual(patches[0], { name: "rope", wavelength_nm: [400, 450, 500, 550, 600, 650], reflectance: [0.1, 0.2, 0.3, 0.4, 0.5, 0.6] });
  assert.equal(patches[1].name, "old brick");
});

test("a line that cannot be read is named, and nothing is taken", () => {
  assert.match(chart.readChart("rope 61.2 6.4 24.8\nbrick 40 30").words, /^Line 2: got “brick 40 30”/);
  assert.match(chart.readChart("40 30 20").words, /^Line 1/);
  assert.match(chart.readChart("rope 161 6 24").words, /L\* is 161.0/);
  assert.match(chart.readChart("rope 61 100 99").words, /stronger than any surface/);
  assert.match(chart.readChart("rope 61 6 24\nrope 60 6 24").words, /“rope” stands there twice/);
  assert.match(chart.readChart("nm 400 450 500 550 600 650\nrope 1 2 3").words, /wanted a name and 6 reflectances/);
  assert.deepEqual(chart.readChart(" \n").patches, []);
});

test("the next patch is the first neither measured nor skipped; one that was chosen comes first", () => {
  const list = ["a", "b", "c"].map((name) => ({ name }));
  const states = (...given) => chart.chartRows(list, ...given).rows.map((row) => row.state);
  assert.deepEqual(states(["a"], new Set(), null), ["measured", "now", "later"]);
  assert.deepEqual(states(["a"], new Set(["b"]), null), ["measured", "skipped", "now"]);
  assert.deepEqual(states([], new Set(["b"]), "b"), ["later", "now", "later"]);
  assert.equal(chart.chartRows(list, ["a", "b", "c"], new Set(), "b").now, null);
  assert.equal(chart.chartRows([], ["x"], new Set(), null).rows[0].name, "x");
});

test("what a browser kept that is no list of patches is none", () => {
  for (const kept of ["", "{", "5", '{"name":1}', "null"]) assert.deepEqual(chart.keptChart(kept), []);
  assert.deepEqual(chart.keptChart('[{"name":"rope"},{"x":1}]'), [{ name: "rope" }]);
});

test("the check tile: reference, holds, moved; the words never hide the worst", () => {
  const look = (de00, minute) => ({ de00, name: "tile", at: `2026-09-04T18:${minute}:00Z` });
  assert.equal(chart.checkVerdict(look(null, "00"), 0.7).state, "reference");
  assert.equal(chart.checkVerdict(look(0.7, "00"), 0.7).state, "holds");
  assert.equal(chart.checkVerdict(look(0.71, "00"), 0.7).state, "moved");
  const words = chart.checkSummary([look(null, "00"), look(1.2, "01"), look(0.1, "02")], 0.7);
  assert.match(words, /2 looks.*last ΔE 0.10, largest 1.20.*over it: 1/);
  const { points, limit } = chart.checkPoints([look(null, "00"), look(40, "01"), look(0.35, "02")], 0.7, { left: 0, right: 100, top: 0, bottom: 100 });
  assert.deepEqual(points.map(({ x, moved }) => [x, moved]), [[0, false], [50, true], [100, false]]);
  assert.ok(points[1].y === 0 && points[2].y > limit && limit > 0, "a wild look stays in the box");
});

test("a tile known by one value, and how long a calibration holds", () => {
  for (const text of ["92 %", "0.92", "0,92", "92"]) assert.equal(readTile(text).reflectance[40], 0.92);
  assert.equal(readTile("92 %").wavelength_nm.length, 41);
  assert.match(readTile("0").words, /Line 1/);
  const calibration = { state: "ready", at: "2026-09-04T18:00:00Z", holds_h: 12, check_allowed_de00: 0.7, due: [] };
  assert.match(holdsWords(calibration), /^Holds until .*0\.7/);
  assert.equal(holdsWords({ ...calibration, due: ["x"] }), "");
  assert.equal(holdsWords({ ...calibration, state: "none", at: null }), "");
});

test("placements: how many more are wanted, the spread, and which lies apart", () => {
  const one = { lab: [50, 1, 2], u95_de00: 1, clipped: false, screen: { hex: "#777777" } };
  assert.equal(more.placementsWords({ placements: [], together: null }), "No placement yet.");
  assert.match(more.placementsWords({ placements: [one], together: { spread_de00: 0, u95_de00: 1 } }), /^1 placement\. 2 more/);
  const together = { spread_de00: 0.3, u95_de00: 1.1, outliers: ["2"] };
  const placed = { placements: [one, one, { ...one, clipped: true }], together };
  assert.equal(more.placementsWords(placed), "3 placements. They lie ΔE 0.30 apart; together ± 1.1 (95 in 100).");
  assert.deepEqual(more.placementRows(placed).map((row) => row.note), ["", "lies apart: left out", "top of the range: measure again"]);
});

test("recipes that are the same cup are shown once; the missing uncertainty is not invented", () => {
  const recipe = { recipe: [{ paint: "white", drops: 1 }], predicted_de00: 0.81, predicted_u95_de00: 2, total_drops: 1, metameric_de00: null };
  const other = { ...recipe, kind: "cheapest", recipe: [{ paint: "white", drops: 2 }], predicted_u95_de00: null, total_drops: 2, metameric_de00: 0.4 };
  const list = more.recipeList({ ...recipe, alternatives: [{ ...recipe, kind: "closest" }, other] });
  assert.deepEqual(list.map((one) => one.kind), ["Recommended", "Cheapest"]);
  assert.equal(list[0].why, "1 drop; should come to ΔE 0.8 ± 2.0.");
  assert.equal(list[1].why, "2 drops; should come to ΔE 0.8. Under a warm lamp ΔE 0.4 apart.");
});

test("numbers of a form: left out where empty, asked for where needed, with per cent and comma", () => {
  const read = more.readNumbers({ a: "1,5", b: "", c: "35 %", d: "x", e: " " }, { needed: ["e"], scale: { c: 0.01 } });
  assert.deepEqual(read.asked, { a: 1.5, c: 0.35 });
  assert.deepEqual(read.faults.map(([name]) => name), ["d", "e"]);
});

test("an amount names what was assumed, and another batch is in whole drops", () => {
  const amount = more.amountWords({ paint_ml: 2.7, reducer_ml: 0, thinned_ml: 2.7, drops: 54, assumed: ["20% spare"] }, "ml");
  assert.deepEqual(amount, { words: "Mix 2.70 mL of paint, 54 drops.", assumed: ["Assumed: 20% spare."] });
  const again = { drops: [["white", 38], ["blue", 1]], paint_ml: 1.95, reducer_ml: 0.5, worst_share_error_pct: 2.2 };
  assert.match(more.againWords(again, "ml"), /^38 drops white \+ 1 drop blue: 1\.95 mL of paint, with 0\.50 mL of reducer/);
  assert.deepEqual(more.driftRows([{ batch: "hull (batch-1)", from_first_de00: 0, from_target_de00: null }]), [["hull", "0.00", "–"]]);
});

// What the forms of calibration, mixing and shelf take and say.
import assert from "node:assert/strict";
import test from "node:test";
import * as chart from "../dashboard/static/chart_view.js";
import * as sheet from "../dashboard/static/sheet_view.js";
import * as targets from "../dashboard/static/targets_view.js";
import { nextAddition, lastLine } from "../dashboard/static/view.js";
import * as more from "../dashboard/static/more_view.js";
import { calibrationSteps, holdsWords, readTile } from "../dashboard/static/instruments_view.js";

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

test("a calibration begun anew waits for its tile, though the old one is in force", () => {
  const steps = (calibration) => calibrationSteps({ calibration });
  assert.deepEqual(steps({ state: "ready", tile_next: true }), { dark: "done", white: "now" });
  assert.deepEqual(steps({ state: "ready", tile_next: false }), { dark: "done", white: "done" });
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
  assert.deepEqual(list.map((one) => one.title), ["Recommended", "Cheapest"]);
  const choice = { ...other, kind: "closest", also: ["cheapest"], words: "closest: 2 drops", weighed: { grams: [{}], words: "0.1 g white", total_g: 0.1, worst_share_error_pct: 0 } };
  const [first] = more.recipeList({ choices: [choice], alternatives: [recipe] });
  assert.deepEqual([first.kind, first.title, first.why], ["closest", "Closest, Cheapest", "Closest: 2 drops."]);
  assert.match(first.scale, /^On the scale: 0.1 g white; 0.10 g in all/);
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

test("a data sheet: what is empty is not stated, degrees Fahrenheit become Celsius and come back", () => {
  const { limits, faults } = sheet.readLimits({ air_min_c: "50", surface_over_dew_k: "5.4", rh_max_pct: "75", pot_life_h: "" }, "f");
  assert.deepEqual([limits, faults], [{ air_min_c: 10, rh_max_pct: 75, surface_over_dew_k: 3 }, []]);
  const typed = sheet.typedLimits({ ...limits, recoat_from_h: null }, "f");
  assert.deepEqual([typed.air_min_c, typed.surface_over_dew_k, typed.rh_max_pct, typed.recoat_from_h], ["50", "5.4", "75", ""]);
  assert.deepEqual(sheet.readLimits({ wrinkle_from_h: "2" }, "c").faults.map(([name]) => name), ["wrinkle_to_h"]);
  assert.deepEqual(sheet.readLimits({ rh_max_pct: "dry" }, "c").faults.map(([name]) => name), ["rh_max_pct"]);
});

test("a label: shares of the bottle, the rest is pigment and binder; more than the bottle is refused", () => {
  const { solvents, limits, faults } = sheet.readContents([["toluene", "30 %", "20"], ["", "", ""], ["n-butyl acetate", "25,5", ""]]);
  assert.deepEqual([solvents, limits, faults], [{ toluene: 0.3, "n-butyl acetate": 0.255 }, { toluene: 20 }, []]);
  assert.match(sheet.readContents([["a", "70", ""], ["b", "40", ""]]).faults[0][1], /add up to 110.0 %/);
  assert.deepEqual(sheet.readContents([["", "40", ""], ["b", "", ""], ["c", "1", "0"]]).faults.map(([name]) => name), ["name-0", "share-1", "limit-2"]);
  assert.deepEqual(sheet.pigmentsOf("red oxide, carbon black;\n"), ["red oxide", "carbon black"]);
});

test("what is not entered of a paint is said, never taken as harmless", () => {
  assert.match(sheet.sheetWords({ details: {} }), /No data sheet.*vapour cannot be assessed/);
  assert.match(sheet.sheetWords({ details: { limits: {}, solvents: { toluene: 0.4 }, two_part: true } }), /Data sheet entered\. Label entered\. Two-part/);
});

test("targets beside each other: the others against the first, never across white points", () => {
  const target = (id, lab, white = "d65-10") => ({ id, name: id, lab, white, screen: { hex: "#000000", in_gamut: true } });
  const targets = [target("a", [50, 0, 0]), target("b", [52, 0, 0]), target("c", [50, 0, 0], "d50-2")];
  assert.deepEqual(sheet.besideRows(targets, ["a", "b", "c", "gone"]).map((row) => row.de), ["0.0", "2.0", "another white point"]);
});

test("the guided set: done steps have no act, a film is measured over both cards, the best is marked", () => {
  const steps = [
    { parts: { blue: 1 }, over: [], why: "the masstone", done: true },
    { parts: { blue: 1, white: 10 }, over: [], why: "tells strength", done: false },
    { parts: { blue: 1 }, over: ["black", "white"], why: "tells how it hides", done: false },
  ];
  const guide = { paints: [{ paint: "blue", words: "Next: …", next: { parts: { blue: 1, white: 10 }, over: [] }, steps }] };
  const found = sheet.guideSteps(guide, "blue");
  assert.deepEqual(found.steps.map((step) => step.state), ["done", "next", "open"]);
  assert.deepEqual(found.steps.map((step) => step.acts.map((act) => act.over)), [[], [null], ["black", "white"]]);
  assert.equal(found.steps[1].what, "1 blue + 10 white (drops), thick");
  assert.equal(sheet.guideSteps(guide, "red"), null);
  assert.equal(sheet.guideSteps(null, "red"), null);
});

test("weighed paint counts as poured, and the aim at the dry colour is said with what it rests on", () => {
  const ledger = [{ at: "2026-09-04T18:00:00Z", name: "blue", drops: null, ml: null, grams: 0.85 }];
  const batch = { ledger, swatches: [], contents: [], lines: 1 };
  const advice = { add: [], words: "w", current: true, done: false, predicted_de00: 1, u95_de00: 0.5, now_de00: null, notes: ["no white on the shelf"], dry: { de00: 1.2, u95_de00: 0.8, assumed: true } };
  assert.equal(nextAddition({ advice, batch, target: {} }).kind, "stir");
  assert.equal(lastLine(batch), "blue, 0.850 g");
  const read = { ...batch, swatches: [{ at: "2026-09-04T18:01:00Z" }] };
  assert.match(nextAddition({ advice, batch: read, target: {} }).why, /^Dry: ΔE 1\.2 ± 0\.8, an assumption.*no white on the shelf$/);
});

const TYPED = { name: "hull blue", how: "lab", munsell: "", l: "40,5", a: "-2", b: "−20", illuminant: "a", observer: "2", tolerance_de00: "1.0", variant_of: "" };

test("a target typed as Lab names its light and observer, as notation neither", () => {
  const lab = targets.readTyped(TYPED);
  assert.deepEqual(lab, { asked: { name: "hull blue", tolerance_de00: 1, lab: [40.5, -2, -20], illuminant: "a", observer: 2 }, faults: [] });
  const munsell = targets.readTyped({ ...TYPED, how: "munsell", munsell: " 5PB 3/8 ", variant_of: "pilot cutter" });
  assert.deepEqual(munsell, { asked: { name: "hull blue", tolerance_de00: 1, munsell: "5PB 3/8", variant_of: "pilot cutter" }, faults: [] });
});

test("what is wrong with a typed target is named at its fields, in their order", () => {
  const fields = (typed) => targets.readTyped({ ...TYPED, ...typed }).faults.map(([name]) => name);
  assert.deepEqual(fields({ name: " ", l: "dark", illuminant: "", observer: "", tolerance_de00: "" }), ["name", "l", "illuminant", "observer", "tolerance_de00"]);
  assert.deepEqual(fields({ l: "104" }), ["l"]);
  assert.deepEqual(fields({ a: "120", b: "-90" }), ["a"]);
  assert.deepEqual(fields({ how: "munsell" }), ["munsell"]);
});

test("two taps at opposite corners mark the same part, whichever comes first", () => {
  const size = [400, 200];
  const [one, other] = [targets.pixelAt([20, 10], [200, 100], size), targets.pixelAt([59.9, 29.9], [200, 100], size)];
  assert.deepEqual([one, other], [[40, 20], [119, 59]]);
  assert.deepEqual(targets.boxOf(one, other), [40, 20, 80, 40]);
  assert.deepEqual(targets.boxOf(other, one), [40, 20, 80, 40]);
  assert.deepEqual(targets.boxOf([119, 20], [40, 59]), [40, 20, 80, 40]);
  assert.deepEqual(targets.pixelAt([200, 100], [200, 100], size), [399, 199]);
  assert.deepEqual(targets.boxOf([0, 0], [399, 199]), [0, 0, 400, 200]);
});

test("a typed part is whole numbers inside the picture, or left empty", () => {
  const read = (...texts) => targets.readBox(texts, [400, 200]);
  assert.deepEqual(read("0", "0", "400", "200"), [0, 0, 400, 200]);
  assert.equal(read("", " ", "", ""), null);
  for (const wrong of [["1", "0", "400", "200"], ["0", "", "9", "9"], ["0", "0", "2", "4"], ["0.5", "0", "9", "9"], ["-1", "0", "9", "9"], ["x", "0", "9", "9"]]) {
    assert.equal(read(...wrong), undefined, wrong.join(" "));
  }
});

test("photographs: each picture wants its colour marked; a refusal is said at the picture it names", () => {
  const texts = { name: "deck", tolerance_de00: "2", variant_of: "", neutral_l: "" };
  const picture = { n: 3, name: "deck.png", media_type: "image/png", data_base64: "AAAA", size: [90, 60], patch: ["0", "0", "9", "9"], neutral: ["", "", "", ""] };
  const { asked, faults } = targets.readPhotographs(texts, [picture]);
  assert.deepEqual(faults, []);
  assert.deepEqual(asked, { name: "deck", tolerance_de00: 2, pictures: [{ name: "deck.png", media_type: "image/png", data_base64: "AAAA", patch: [0, 0, 9, 9] }] });
  const bad = targets.readPhotographs({ ...texts, neutral_l: "950" }, [{ ...picture, patch: ["", "", "", ""], neutral: ["1", "", "", ""] }]);
  assert.deepEqual(bad.faults.map(([name]) => name), ["patch-3-0", "neutral-3-0", "neutral_l"]);
  assert.deepEqual(targets.readPhotographs(texts, []).faults.map(([name]) => name), ["pictures"]);
  assert.deepEqual(targets.readPhotographs(texts, Array(9).fill(picture)).faults.map(([name]) => name), ["pictures"]);
  assert.equal(targets.refusedField("picture deck.png: the neutral has L 12; pick a white", [picture]), "neutral-3-0");
  assert.equal(targets.refusedField("picture deck.png: 40 % of the patch is burnt out", [picture]), "patch-3-0");
  assert.equal(targets.refusedField("target deck: no", [picture]), null);
  assert.match(targets.pictureFault({ name: "a.tif", type: "image/tiff", size: 10 }), /^a\.tif: wanted/);
  assert.notEqual(targets.pictureFault({ name: "a.png", type: "image/png", size: 12_000_001 }), "");
  assert.equal(targets.pictureFault({ name: "a.png", type: "image/png", size: 12_000_000 }), "");
});

const targetOf = (id, name, l, rest = {}) => ({ id, name, lab: [l, 0, 0], white: "d65-10", tolerance_de00: 1, measured: false, origin: "typed", u95_de00: null, screen: { hex: "#000000", in_gamut: true }, ...rest });

test("the shades of a model stand beside the model itself, each held against it", () => {
  const model = { name: "hull", itself: targetOf("1", "hull", 40, { de00_last: 2 }), targets: [targetOf("2", "late hull", 44, { de00_last: 1.25 }), targetOf("3", "worn hull", 50, { white: "d50-2", de00_last: null })] };
  const rows = targets.shadeRows(model);
  assert.deepEqual(rows.map(({ name, last }) => [name, last]), [["hull", "2.0"], ["late hull", "1.3"], ["worn hull", "–"]]);
  assert.equal(rows[0].de, "0.0");
  assert.match(rows[1].de, /^3\.[0-9]$/);
  assert.equal(rows[2].de, "another white point");
  assert.deepEqual(targets.shadeRows({ ...model, itself: null }).map(({ de }) => de), ["0.0", "another white point"]);
});

test("the facts of a target say that photographs are a guide, and how wide it is", () => {
  const guide = targetOf("1", "deck", 52, { origin: "photographs", u95_de00: 8.12 });
  assert.equal(targets.targetFacts(guide), "52.0 / 0.0 / 0.0 (D65, 10° observer), tolerance 1.0, a guide, from photographs, ± 8.1 (95 in 100)");
  assert.match(targets.targetFacts(targetOf("2", "deck", 52)), /, typed in$/);
  assert.match(targets.targetFacts(targetOf("3", "deck", 52, { origin: "measured", measured: true, u95_de00: 0.8 })), /, measured, ± 0\.8/);
});

test("looks at the check tile over all calibrations: a reference begins the line anew", () => {
  const look = (at, de00) => ({ at: `2026-11-${at}T09:00:00Z`, name: "grey", de00 });
  const looks = [look("01", null), look("02", 0.3), look("08", null), look("09", 0.9)];
  const { points } = chart.checkPoints(looks, 0.7, { left: 0, right: 80, top: 0, bottom: 100 });
  assert.equal(chart.checkLine(points).replace(/[^ML]/g, ""), "MLML");
  assert.deepEqual(points.map(({ x }) => x), [0, 10, 70, 80]);
  assert.match(chart.checkSummary(looks, 0.7, true), /^2 looks over all calibrations: largest ΔE 0\.90, allowed 0\.70; over it: 1\.$/);
  assert.equal(chart.checkSummary([], 0.7, true), "Not measured yet.");
});

test("of a common chart one patch by name, or all of them", () => {
  const common = { name: "iso-17321-1", patches: [{ name: "dark skin", lab_d50_2: [37, 12, 13] }, { name: "green", lab_d50_2: [54, -40, 34] }] };
  assert.deepEqual(chart.commonPatches(common, "green"), [{ name: "green", chart: "iso-17321-1" }]);
  assert.deepEqual(chart.commonPatches(common, "").map(({ name }) => name), ["dark skin", "green"]);
});

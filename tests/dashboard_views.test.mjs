// What each place says, from the bench's JSON.
import assert from "node:assert/strict";
import test from "node:test";
import { SILENT, settle } from "../dashboard/static/settle.js";
import { freshness, takeColour, takeState, wake } from "../dashboard/static/bench.js";
import * as booth from "../dashboard/static/booth_view.js";
import * as coats from "../dashboard/static/coats_view.js";
import { calibrationSteps, readTile } from "../dashboard/static/instruments_view.js";
import * as shelf from "../dashboard/static/shelf_view.js";
import * as strip from "../dashboard/static/strip_view.js";
import * as view from "../dashboard/static/view.js";

const C = { temperature: "c", volume: "ml" };
const known = () => ({ state: null, live: null, live_ms: -Infinity, booth_ms: -Infinity, heard_ms: -Infinity, broken: false });
const stateAt = (at, live) => ({ at, live });

test("a reading is old after two seconds, and at once when the link is gone", () => {
  const bench = known();
  takeState(bench, stateAt("2026-09-04T18:00:10Z", { at: "2026-09-04T18:00:09Z" }), 1000);
  assert.equal(freshness(bench, 1900).stale, false);
  assert.equal(freshness(bench, 2100).stale, true);
  takeColour(bench, { at: "2026-09-04T18:00:12Z" }, 3000);
  takeState(bench, stateAt("2026-09-04T18:00:14Z", { at: "2026-09-04T18:00:12Z" }), 4900);
  assert.equal(freshness(bench, 4950).live_age_ms, 1950);
  bench.broken = true;
  assert.deepEqual([freshness(bench, 4951).connected, freshness(bench, 4951).stale], [false, true]);
});

test("after a sleep everything is as old as the wall clock says, though the other clock stood still", () => {
  const bench = known();
  assert.equal(wake(bench, 0, 1_000_000), 0);
  takeState(bench, stateAt("2026-09-04T18:00:10Z", { at: "2026-09-04T18:00:10Z" }), 100);
  assert.equal(wake(bench, 500, 1_000_500), 0);
  assert.equal(wake(bench, 600, 1_000_600 + 3_600_000), 3_600_000);
  const fresh = freshness(bench, 600);
  assert.deepEqual([fresh.connected, fresh.stale, fresh.live_age_ms], [false, true, 3_600_500]);
  assert.equal(wake(bench, 700, 1_000_700), 0, "a clock that is set back makes nothing young");
  assert.equal(freshness(bench, 700).stale, true);
});

test("silence of five seconds is a lost link, though nothing said so", () => {
  const bench = known();
  takeState(bench, stateAt("2026-09-04T18:00:10Z", null), 0);
  assert.equal(freshness(bench, 4000).connected, true);
  assert.equal(freshness(bench, 5000).connected, false);
  assert.equal(freshness(known(), 0).connected, false);
});

test("the verdict never judges what is not there", () => {
  const target = { tolerance_de00: 1 };
  const live = { de00: 0.4, verdict: "pass", plain: "matched" };
  assert.equal(view.verdict(live, target, false).state, "none");
  assert.equal(view.verdict(null, target, true).state, "none");
  assert.equal(view.verdict({ de00: null }, null, true).state, "none");
  assert.deepEqual(view.verdict(live, target, true), { state: "pass", word: "pass", direction: "no difference to be seen" });
  assert.equal(view.uncertainty({ u95_de00: null }), "± unknown");
});

const cup = (ledger, swatches) => ({ id: "b", name: "cup", contents: [], total_drops: 0, lines: ledger.length, ledger, swatches });
const pour = { add: [{ paint: "blue", drops: 3 }], done: false, current: true, predicted_de00: 1, u95_de00: 0.5, now_de00: 4, words: "w" };

test("no dose is offered twice: poured but not measured, or advice that is being worked out", () => {
  const line = { at: "2026-09-04T18:00:00Z", name: "blue", drops: 3, ml: null };
  const target = {};
  assert.equal(view.nextAddition({ advice: pour, batch: null, target }).kind, "words");
  assert.equal(view.nextAddition({ advice: pour, batch: cup([], []), target }).kind, "pour");
  assert.equal(view.nextAddition({ advice: pour, batch: cup([line], []), target }).kind, "stir");
  const read = [{ at: "2026-09-04T18:01:00Z" }];
  assert.equal(view.nextAddition({ advice: pour, batch: cup([line], read), target }).kind, "pour");
  assert.equal(view.nextAddition({ advice: { ...pour, current: false }, batch: cup([line], read), target }).kind, "working");
  assert.equal(view.nextAddition({ advice: { ...pour, add: [], done: true }, batch: cup([line], read), target }).kind, "words");
});

test("a line taken back counts neither as poured nor as the last line", () => {
  const back = { at: "2026-09-04T18:02:00Z", name: "blue", drops: 0, ml: null };
  const before = { at: "2026-09-04T18:00:00Z", name: "white", drops: 1, ml: null };
  assert.equal(view.lastLine(cup([before, back], [])), "white, 1 drop");
  assert.equal(view.pouredSinceReading(cup([back], [])), false);
  assert.equal(view.lastLine(null), null);
});

test("the first visit leads from board to target, one step at a time", () => {
  const steps = (state, target) => view.firstSteps({ calibration: { state }, target })?.map((s) => s.state).join(" ");
  assert.equal(steps("no board", null), "now later later later");
  assert.equal(steps("none", null), "done now later later");
  assert.equal(steps("dark measured", null), "done done now later");
  assert.equal(steps("ready", null), "done done done now");
  assert.equal(steps("ready", {}), undefined);
  assert.equal(steps("none", {}), "done now later done");
});

test("a silent or missing channel says so and shows no number", () => {
  const fresh = { value: 21.04, age_ms: 100, silent: false };
  assert.deepEqual(booth.channelText("air_c", fresh, C, 0, 15000), { text: "21.0 °C", stale: false });
  assert.deepEqual(booth.channelText("air_c", null, C, 0, 15000), { text: "no reading", stale: true });
  assert.match(booth.channelText("air_c", fresh, C, 20000, 15000).text, /^no reading for 20 s$/);
  assert.equal(booth.channelText("air_c", { ...fresh, silent: true }, C, 0, 15000).stale, true);
  assert.deepEqual([null, -1, 1, 5].map(booth.marginLevel), ["unknown", "stop", "caution", "none"]);
});

test("the gravest standing flag is in sight, and what was not seen is counted", () => {
  const flag = (level, more) => ({ id: level, level, title: level, words: "", cleared: null, acknowledged_by: null, ...more });
  const mark = booth.flagsMark([flag("note"), flag("stop", { acknowledged_by: "A" }), flag("caution", { cleared: "x" })]);
  assert.equal(mark.level, "stop");
  assert.match(mark.text, /^Stop: stop\. 2 flags\. 2 not seen\.$/);
  assert.equal(booth.flagsMark([]).text, "No flag up.");
  assert.deepEqual(booth.newFlags([flag("stop"), flag("note"), flag("caution")], new Set(["stop"])).map((f) => f.id), ["caution"]);
});

test("a strip keeps its gaps and joins live points to the journal's", () => {
  const points = [[0, 1, 1, 1], [60, 2, 2, 2], [120, null, null, null], [180, 3, 3, 3]];
  assert.equal(strip.runs(points, 100).length, 2);
  assert.equal(strip.runs([[0, 1], [500, 1]], 100).length, 2);
  const joined = strip.withLive(points, [[170, 9], [190, 4]], 50);
  assert.deepEqual(joined.map(([at, v]) => [at, v]), [[60, 2], [120, null], [180, 3], [190, 4]]);
  const line = strip.linePath(strip.runs(points, 100), (x) => x, (y) => y);
  assert.equal(line, "M0.0 1.0L60.0 2.0M180.0 3.0h1");
});

test("a strip's scale has round steps and holds what it must", () => {
  const scale = strip.scaleOf([3.2, 9.7, null], [0]);
  assert.ok(scale.low <= 0 && scale.high >= 9.7 && scale.step === 2);
  assert.match(strip.summary("air_temperature", [], C, 100, 0), /no readings/);
  const ended = strip.summary("film_margin", [[0, 2], [1, 0.4]], C, 100, 5_000);
  assert.match(ended, /no reading since/);
  assert.doesNotMatch(ended, /now/);
  assert.match(strip.summary("air_temperature", [[0, 20], [1, 21], [2, 22], [3, 23]], C, 100, 50), /now 23\.0 °C, rising; lowest 20\.0 °C, highest 23\.0 °C/);
});

const channel = (name, mean, low, high, device = "board") => ({ device, channel: name, unit: "", n: 9, mean, low, high, worst_minute: mean, gap_s: 0 });
const coat = (channels) => ({ id: "c", piece_name: "van", coat_kind: "wet coat", start: "2026-09-04T18:00:00Z", end: "2026-09-04T18:05:00Z", person: "A", conditions: { channels, flags: [], gaps: [] } });

test("one device speaks for a coat, and the film model with it", () => {
  const mixed = coat([channel("air_temperature", 20, 19, 21, "door"), channel("relative_humidity", 50, 49, 51, "door"),
    channel("air_temperature", 22, 21, 23), channel("relative_humidity", 55, 54, 56), channel("part_temperature", 21, 20, 22),
    channel("film_margin", 2, 1, 3, "film model"), channel("f1", 1, 1, 1)]);
  assert.equal(coats.chosenDevice(mixed.conditions), "board");
  assert.deepEqual(coats.conditionsOf(mixed).map((c) => c.channel), ["air_temperature", "relative_humidity", "part_temperature", "film_margin"]);
  assert.deepEqual(coats.otherDevices(mixed), ["door"]);
  assert.equal(coats.chosenDevice(null), null);
});

test("two coats differ where each lies outside the other's range; what one lacks is not alike", () => {
  const [a, b] = [channel("x", 5, 4, 6), channel("x", 9, 8, 10)];
  assert.equal(coats.verdictOf(a, b), "differs");
  assert.equal(coats.verdictOf(a, channel("x", 5.5, 4, 6)), "alike");
  assert.equal(coats.verdictOf(a, undefined), "unknown");
  assert.equal(coats.verdictOf(a, channel("x", null, null, null)), "unknown");
  assert.equal(coats.filtered([coat([])], "VAN").length, 1);
  assert.equal(coats.filtered([coat([])], "boat").length, 0);
});

test("a paint asks for its next swatch", () => {
  const paint = (name, swatches, white = false) => ({ name, details: { swatches, white } });
  assert.equal(shelf.nextSwatch(paint("blue", []), "white"), "alone");
  assert.equal(shelf.nextSwatch(paint("blue", [{ parts: { blue: 20 } }]), "white"), "let down");
  assert.equal(shelf.nextSwatch(paint("blue", [{ parts: { blue: 20 } }]), null), "white first");
  assert.equal(shelf.nextSwatch(paint("white", [{ parts: { white: 20 } }], true), "white"), "none");
  assert.deepEqual(shelf.partsOf({ name: "blue" }, "white", "let down"), { white: 20, blue: 2 });
});

test("a reducer's shares come to 100 %, or the row is named", () => {
  assert.deepEqual(shelf.readShares([["toluene", "60"], ["n-butanol", "40"], ["", ""]]), { solvents: { toluene: 0.6, "n-butanol": 0.4 } });
  assert.match(shelf.readShares([["toluene", "60"]]).words, /60\.0 %/);
  assert.deepEqual([shelf.readShares([["toluene", "x"]]).row, shelf.readShares([["", "5"]]).field], [0, "name"]);
  assert.match(shelf.readShares([["", ""]]).words, /at least one/);
});

test("a tile's certificate is read line by line", () => {
  const lines = [400, 450, 500, 550, 600, 650].map((nm) => `${nm} 0.9`).join("\n");
  assert.deepEqual(readTile(lines).reflectance, Array(6).fill(0.9));
  assert.deepEqual(readTile(lines.replaceAll("0.9", "90")).reflectance, Array(6).fill(0.9));
  assert.deepEqual(readTile("").wavelength_nm, []);
  assert.match(readTile("400 0.9\nabc").words, /Line 2: got “abc”/);
  assert.match(readTile("400 0.9").words, /Got 1 lines/);
  assert.deepEqual(calibrationSteps({ calibration: { state: "dark measured" } }), { dark: "done", white: "now" });
});

test("live words are said when they held, once, and not too often", () => {
  let memory = { ...SILENT };
  const said = [];
  for (let at = 0; at <= 20_000; at += 500) {
    memory = settle(memory, at < 6000 ? "off" : at % 1000 ? "close" : "pass", at);
    if (memory.speak) said.push([at, memory.speak]);
  }
  assert.deepEqual(said, [[2500, "off"]]);
});

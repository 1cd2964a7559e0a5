// The booth's forms and the assessment, from what is typed and what the bench says.
import assert from "node:assert/strict";
import test from "node:test";
import * as air from "../dashboard/static/air_view.js";
import * as coats from "../dashboard/static/coats_view.js";
import * as evenings from "../dashboard/static/evenings_view.js";
import * as settings from "../dashboard/static/coat_settings.js";

test("how a coat is sprayed is read with its units; an empty field is not known and not sent", () => {
  const typed = { distance_mm: "120", pressure: "1,4", pressure_unit: "bar", sprayed_ml: "0.1", area_cm2: "", base_l: "grey", family: "" };
  const read = settings.readSettings(typed, "floz");
  assert.deepEqual(read.faults, []);
  assert.deepEqual(read.settings, { distance_mm: 120, pressure_bar: 1.4, sprayed_ml: 2.95735, base_l: "grey" });
  assert.deepEqual(settings.readSettings({ pressure_unit: "bar" }, "ml"), { settings: {}, faults: [] });
});

test("what no airbrush does is asked for again, in the unit that was typed", () => {
  const typed = { distance_mm: "5", pressure: "20", pressure_unit: "bar", efflux_s: "soon", wet_film_um: "0", sprayed_ml: "40" };
  const { faults, settings: sent } = settings.readSettings(typed, "floz");
  assert.deepEqual(faults.map(([name]) => name).sort(), ["distance_mm", "efflux_s", "pressure", "sprayed_ml", "wet_film_um"]);
  assert.deepEqual(sent, {});
  assert.match(faults.find(([name]) => name === "distance_mm")[1], /10 to 1000/);
  assert.deepEqual(settings.readSettings({ pressure: "20", pressure_unit: "psi" }, "ml").faults, []);
});

test("the settings of a coat fill the form again, whatever their unit was", () => {
  for (const volume of ["ml", "floz"]) {
    const held = { distance_mm: 150, pressure_psi: 22, sprayed_ml: 3, base_l: "black", family: "enamel" };
    const back = settings.readSettings(settings.fieldsOf(held, volume), volume);
    assert.deepEqual(back.faults, []);
    assert.ok(Math.abs(back.settings.sprayed_ml - 3) < 0.02);
    assert.deepEqual({ ...back.settings, sprayed_ml: 3 }, held);
  }
  const words = settings.settingRows({ pressure_bar: 1.2, nozzle_mm: 0.3 }, "ml");
  assert.deepEqual(words, [["Air pressure", "1.2 bar"], ["nozzle mm", "0.3"]]);
});

test("the next coat is remembered from the last of the same piece, else from the last of all", () => {
  const coats = [{ id: "c", piece_name: "tram", settings: {} }, { id: "b", piece_name: "van", settings: { distance_mm: 1 } },
    { id: "a", piece_name: "tram", settings: { distance_mm: 2 } }];
  assert.equal(settings.lastCoat(coats, "tram").id, "a");
  assert.equal(settings.lastCoat(coats, "boat").id, "b");
  assert.equal(settings.lastCoat([], "boat"), null);
});

test("a level that the page does not know is never milder than cannot be judged", () => {
  assert.deepEqual(air.levelOf({ level: "new level", flag_level: "sunny" }), { flag: "unknown", mark: "?", word: "new level" });
  assert.equal(air.levelOf({ level: "stop and ventilate", flag_level: "stop" }).mark, "■");
});

test("a figure without a limit says so, and a missing figure is no nought", () => {
  assert.deepEqual(air.figureRow({ title: "toluene", text: "not known", value: null, limit: null, share: null }),
    ["toluene", "not known", "no limit known", "–"]);
  assert.equal(air.shareWords(0.003), "below 1 %");
  assert.equal(air.shareWords(1.5), "150 %");
  const memory = { key: "k", title: "A guide", address: "javascript:alert(1)", mark: "memory" };
  assert.deepEqual(air.sourcesOf({ sources: [memory], rows: [{ limit: { source: memory } }] }),
    [{ address: null, words: "A guide (from memory; look it up)" }]);
});

test("the booth's form sends what is known, by one way of knowing the flow", () => {
  const typed = { name: " window ", width_m: "0.8", height_m: "", flow_by: "face_m_s", face_m_s: "0,5", flow_m3h: "700", mixing_divisor: "0.5", exhaust: "" };
  const { asked, faults } = air.readBooth(typed);
  assert.deepEqual(asked, { name: "window", width_m: 0.8, face_m_s: 0.5 });
  assert.deepEqual(faults.map(([name]) => name), ["mixing_divisor", "height_m"]);
  const fields = air.boothFields({ name: "window", width_m: 0.8, rating_m3h: 500, note: "ducted" });
  assert.deepEqual([fields.flow_by, fields.exhaust, fields.height_m], ["rating_m3h", "ducted", ""]);
  assert.match(air.boothWords(null), /cannot be judged/);
});

const C = { temperature: "c", volume: "ml" };
const evening = (date, margin, findings = []) => ({ evening: date, coats: 2, findings, worst_margin_k: margin, margin_of: "film_margin", worst_rh_pct: 60 });

test("the calendar has whole weeks that begin on Monday, newest month first", () => {
  const made = evenings.months([evening("2026-02-01", 4), evening("2026-09-04", 1), evening("2026-09-30", -1)]);
  assert.deepEqual(made.map(({ month }) => month), ["2026-09", "2026-02"]);
  const [september, february] = made.map(({ weeks }) => weeks);
  assert.ok([...september, ...february].every((week) => week.length === 7));
  assert.equal(september[0][0], null, "1 September 2026 is a Tuesday");
  assert.equal(september[0][1].day, 1);
  assert.equal(february[0][6].evening.worst_margin_k, 4, "1 February 2026 is a Sunday");
  assert.equal(february.flat().filter(Boolean).length, 28);
});

test("an evening without readings is never a good one, and each level has its own shape", () => {
  const marks = [4, 2, -1, null].map((margin) => evenings.eveningMark(evening("2026-09-04", margin), C));
  assert.deepEqual(marks.map(({ level }) => level), ["none", "caution", "stop", "unknown"]);
  assert.equal(new Set(marks.map(({ mark }) => mark)).size, 4);
  assert.match(marks[3].words, /margin not read, cannot be judged/);
  assert.match(evenings.eveningMark(evening("2026-09-04", 2, ["blush"]), C).words, /2\.0 K, caution; 2 coats; blush/);
});

test("a coat's strip says how it lies in the usual range, and when there is none", () => {
  const show = (value) => `${value} K`;
  const strip = { words: "film", mean: [1, null, 5], usual_low: 2, usual_high: 6, n_usual: 7 };
  assert.equal(evenings.stripSummary(strip, show), "film: 1 K to 5 K. Usual: 2 K to 6 K (7 coats). Outside it for 50 % of the time.");
  assert.match(evenings.stripSummary({ ...strip, usual_low: null }, show), /Too few good coats/);
  assert.match(evenings.stripSummary({ ...strip, mean: [null] }, show), /no readings/);
});

test("coats are narrowed by what went on; one without conditions has the largest gap of all", () => {
  const coat = (id, conditions) => ({ id, piece_name: id, coat_kind: "wet coat", start: "2026-09-04T18:00:00Z", end: null, conditions });
  const channel = { device: "b", channel: "air_temperature", mean: 20, gap_s: 0 };
  const all = [coat("read", { channels: [channel], flags: [{ key: "k", level: "stop", minutes: 1 }] }), coat("bare", null),
    coat("gap", { channels: [{ ...channel, gap_s: 9 }], flags: [] })];
  const ids = (only, findings) => coats.filtered(all, "", only, findings).map(({ id }) => id);
  assert.deepEqual(ids("all"), ["read", "bare", "gap"]);
  assert.deepEqual(ids("unread"), ["bare", "gap"]);
  assert.deepEqual(ids("flag"), ["read"]);
  assert.deepEqual(ids("finding", [{ coat: "gap" }]), ["gap"]);
  const two = coats.compared({ ...all[0], settings: { distance_mm: 100 } }, { ...all[2], settings: { distance_mm: 150, efflux_s: 20 } }, C);
  assert.deepEqual(two.slice(-2).map(({ name, verdict }) => [name, verdict]), [["Airbrush to piece", "differs"], ["Efflux time", "unknown"]]);
});

test("a table of figures has columns for limits only where one of them has a limit", () => {
  const grams = { title: "toluene", text: "0.6 g", limit: null, share: null };
  assert.deepEqual(air.figures([grams]), { heads: ["What", "Figure"], rows: [["toluene", "0.6 g"]] });
  const ppm = { title: "toluene", text: "12 ppm", limit: { value: 100, unit: "ppm", words: "" }, share: 0.12 };
  assert.deepEqual(air.figures([grams, ppm]).rows[1], ["toluene", "12 ppm", "100 ppm", "12 %"]);
});

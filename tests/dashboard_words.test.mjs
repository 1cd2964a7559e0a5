// Numbers, units and sentences of the page.
import assert from "node:assert/strict";
import test from "node:test";
import { answered, keyOf, lost } from "../dashboard/static/act_key.js";
import { readPrefs } from "../dashboard/static/prefs.js";
import { age, channelValue, difference, fill, many, millilitres, number, retyped, temperature, typedNumber, volume } from "../dashboard/static/words.js";

test("a sentence is filled in; what is not given stays to be seen", () => {
  assert.equal(fill("{a} and {b}", { a: 1 }), "1 and {b}");
  assert.equal(many("{n} drop|{n} drops", 1), "1 drop");
  assert.equal(many("{n} drop|{n} drops", 0), "0 drops");
});

test("a missing number is a dash, never a nought", () => {
  for (const missing of [null, undefined, NaN, Infinity]) assert.equal(number(missing, 1), "–");
  assert.equal(number(-1.25, 1), "−1.3");
  assert.equal(number(-0.01, 1), "0.0");
  assert.equal(temperature(null, "c"), "–");
  assert.equal(difference(null, "c"), "cannot be judged");
});

test("units: NIST SP 811, the Fahrenheit scale and the US fluid ounce", () => {
  assert.equal(temperature(20, "f"), "68.0 °F");
  assert.equal(temperature(-40, "f"), "−40.0 °F");
  assert.equal(difference(3, "f"), "5.4 °F");
  assert.equal(volume(29.5735295625, "floz"), "1.000 fl oz");
  assert.equal(millilitres(2, "floz"), 59.147059125);
  assert.equal(millilitres(2, "ml"), 2);
  assert.equal(channelValue("margin_to_dew_point", 1, { temperature: "f" }), "1.8 °F");
  assert.equal(channelValue("dew_point", 0, { temperature: "f" }), "32.0 °F");
});

test("ages", () => {
  assert.equal(age(1400), "1 s");
  assert.equal(age(150_000), "3 min");
  assert.equal(age(3 * 3_600_000), "3.0 h");
});

test("a typed decimal may have a comma or a true minus", () => {
  assert.equal(typedNumber(" 48,2 "), 48.2);
  assert.equal(typedNumber("−3.5"), -3.5);
  for (const wrong of ["", "abc", "1,2,3", null, "1e999"]) assert.equal(typedNumber(wrong), null);
});

test("a typed figure goes with its unit; what is no number stays as typed", () => {
  assert.equal(retyped("20", "temperature", "c", "f"), "68");
  assert.equal(retyped("68,0", "temperature", "f", "c"), "20");
  assert.equal(retyped("3", "difference", "c", "f"), "5.4");
  assert.equal(retyped(retyped("3", "volume", "ml", "floz"), "volume", "floz", "ml"), "3");
  assert.equal(retyped("1", "volume", "floz", "ml"), "29.5735");
  for (const text of ["", "a few", "12,"]) assert.equal(retyped(text, "volume", "ml", "ml"), text);
  for (const text of ["", "a few"]) assert.equal(retyped(text, "volume", "ml", "floz"), text);
});

test("what a browser kept is taken only where it is of the usual kind", () => {
  const kept = readPrefs('{"temperature":"f","sound":"loud","other":1}');
  assert.deepEqual([kept.temperature, kept.sound, kept.other], ["f", false, undefined]);
  for (const broken of [null, "", "null", "{", "[]"]) assert.equal(readPrefs(broken).temperature, "c");
});

test("an act keeps its key until it is answered, and then the next one gets a new key", () => {
  let n = 0;
  const fresh = () => `key-${(n += 1)}`;
  assert.equal(keyOf("/api/batches {}", 0, fresh), "key-1");
  assert.equal(keyOf("/api/batches {}", 60_000, fresh), "key-1");
  assert.equal(keyOf("/api/swatches {}", 60_000, fresh), "key-2");
  answered("/api/batches {}");
  assert.equal(keyOf("/api/batches {}", 60_001, fresh), "key-3");
  assert.equal(keyOf("/api/batches {}", 60_001 + 10 * 60_000, fresh), "key-4", "the bench has forgotten it by then");
});

test("a measurement whose answer was lost is not taken for the next one", () => {
  let n = 0;
  const fresh = () => `key-${(n += 1)}`;
  for (const act of ["/api/swatches {}", "/api/placements {}", '/api/paints/swatches {"parts":{}}', "/api/calibration/white {}"]) {
    const first = keyOf(act, 1_000_000, fresh);
    lost(act);
    assert.equal(keyOf(act, 1_015_000, fresh), first, "tapped again at once: the same measurement");
    assert.notEqual(keyOf(act, 1_025_000, fresh), first, "the next measurement");
    answered(act);
  }
  const first = keyOf("/api/swatches {}", 1_130_000, fresh);
  lost("/api/swatches {}");
  const poured = '/api/batches/additions {"paint":"ochre"}';
  keyOf(poured, 1_131_000, fresh);
  const underWay = keyOf("/api/placements {}", 1_131_000, fresh);
  answered(poured); // the cup is another one now
  assert.notEqual(keyOf("/api/swatches {}", 1_132_000, fresh), first);
  assert.equal(keyOf("/api/placements {}", 1_132_000, fresh), underWay, "what is still under way keeps its key");
});

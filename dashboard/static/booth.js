// The booth place: coat, flags, numbers, film, clocks, strips.
import { post, press } from "./act.js";
import { announce } from "./announce.js";
import { bench, freshness, now_ms } from "./bench.js";
import * as view from "./booth_view.js";
import * as coatForm from "./coat_form.js";
import { runningCoat } from "./coat_mark.js";
import { make, redraw, say, show } from "./dom.js";
import { drawFlags } from "./flags.js";
import { prefs } from "./prefs.js";
import { camel, elements } from "./selectors.js";
import { drawStrips } from "./strips.js";
import { strings } from "./strings.js";
import { difference, fill, known, number, temperature } from "./words.js";

const words = strings.booth;

export function drawLive() {
  const { state } = bench;
  if (!state) return;
  const { booth } = state;
  const { connected } = freshness(bench, now_ms());
  const later_ms = now_ms() - bench.booth_ms;
  for (const key of view.CHANNELS) {
    const element = elements[camel(key)];
    const shown = view.channelText(key, booth[key], prefs, later_ms, booth.silent_after_ms);
    say(element, shown.text);
    element.classList.toggle("stale", shown.stale || !connected);
  }
  say(elements.dewKind, booth.dew_point_kind === "frost point" ? words.frost : words.dew);
  const old = !connected || later_ms > booth.silent_after_ms;
  margin(elements.marginK, booth.margin_k, old);
  margin(elements.filmMargin, state.film?.margin_k ?? null, old);
  say(elements.dewPointC, known(booth.dew_point_c) ? temperature(booth.dew_point_c, prefs.temperature) : words.unjudged);
  elements.dewPointC.classList.toggle("stale", old || !known(booth.dew_point_c));
}

function margin(element, value, old) {
  say(element, difference(value, prefs.temperature));
  element.dataset.level = view.marginLevel(value);
  element.classList.toggle("stale", old || !known(value));
}

export function drawState() {
  const { state } = bench;
  drawCoat(state);
  drawFlags();
  say(elements.filmWords, view.filmWords(state.film, prefs));
  say(elements.filmAssumed, view.filmAssumed(state.film));
  const advice = state.film?.advice ?? [];
  redraw(elements.filmAdvice, advice, () => advice.map((text) => make("li", {}, text)));
  say(elements.forecastWords, state.forecast?.words ?? words.forecast_none);
  say(elements.recoatWords, state.recoat?.words ?? words.recoat_none);
  say(elements.potWords, state.pot_life?.words ?? words.pot_none);
  const { purge_assumption: assumption } = state.ventilation;
  say(elements.purgeAssumed, assumption ?? "");
  const { rh_pct } = state.booth;
  say(elements.rhCorrected, rh_pct?.corrected ? `${words.humidity}: ${fill(words.corrected, { read: `${number(rh_pct.read, 0)} %RH` })}` : "");
  coatForm.drawPartOf(state.booth);
  say(elements.fanWords, state.ventilation.fan_words);
  say(elements.purgeWords, view.purgeWords(state.ventilation));
  say(elements.cartridgeWords, view.cartridgeWords(state.ventilation.cartridge));
  drawLive();
  drawStrips();
}

function drawCoat(state) {
  const coat = runningCoat(state);
  show(elements.coatForm, coat === null);
  show(elements.coatRunning, coat !== null);
  if (!coat) {
    coatForm.drawForm();
    return;
  }
  say(elements.coatWords, fill(words.running, coat));
  say(elements.coatSince, fill(words.running_since, { time: coat.time, age: coat.ago }));
}

export function setUp() {
  coatForm.setUp();
  press(elements.coatEnd, async () => {
    await post(`/api/coats/${bench.state.coat.id}/end`, {});
    announce(words.end);
  });
}

// The coat that is running, in sight on every place.
import { say, show } from "./dom.js";
import { elements } from "./selectors.js";
import { strings } from "./strings.js";
import { age, clockTime, fill } from "./words.js";

export function runningCoat(state) {
  if (!state.coat) return null;
  const piece = state.coats.find((coat) => coat.id === state.coat.id)?.piece_name ?? "";
  const ago = age(Date.parse(state.at) - Date.parse(state.coat.start));
  return { kind: state.coat.coat_kind, piece, ago, time: clockTime(state.coat.start) };
}

export function drawMark(state) {
  const coat = runningCoat(state);
  show(elements.coatMark, coat !== null);
  if (coat) say(elements.coatMark, fill(strings.booth.running_short, { kind: coat.kind, age: coat.ago }));
}

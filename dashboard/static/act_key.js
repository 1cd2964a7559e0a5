// One key an act.  An act that got no answer keeps its key: tapped again, it is done once.
const KEPT_MS = 9 * 60_000; // the bench remembers an act for ten minutes
const MEASURING_KEPT_MS = 20_000; // a measurement always reads alike: soon it is meant anew
const MEASURING = /^\/api\/(swatches|paints\/swatches|placements|calibration\/\w+) /;
const unanswered = new Map();

// `act` is what is sent, as text; the same text is the same act until an answer came.
export function keyOf(act, now_ms, fresh = freshKey) {
  const known = unanswered.get(act);
  const kept_ms = MEASURING.test(act) ? MEASURING_KEPT_MS : KEPT_MS;
  if (known && now_ms - known.begun_ms < kept_ms) {
    known.lost = false;
    return known.key;
  }
  const key = fresh();
  unanswered.set(act, { key, begun_ms: now_ms });
  return key;
}

// The answer of an act was lost; it may be tapped again.
export function lost(act) {
  const known = unanswered.get(act);
  if (known) known.lost = true;
}

// Once an act is answered the person has gone on: what was lost before it and is sent again, is meant anew.
export function answered(act) {
  for (const [other, { lost: was }] of unanswered) if (other === act || was) unanswered.delete(other);
}

// Not randomUUID: a tablet on plain http has none.
function freshKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (part) => part.toString(16).padStart(2, "0")).join("");
}

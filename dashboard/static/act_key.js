// One key an act.  An act that got no answer keeps its key: tapped again, it is done once.
const KEPT_MS = 9 * 60_000; // the bench remembers an act for ten minutes
const unanswered = new Map();

// `act` is what is sent, as text; the same text is the same act until an answer came.
export function keyOf(act, now_ms, fresh = freshKey) {
  const known = unanswered.get(act);
  if (known && now_ms - known.begun_ms < KEPT_MS) return known.key;
  const key = fresh();
  unanswered.set(act, { key, begun_ms: now_ms });
  return key;
}

export function answered(act) {
  unanswered.delete(act);
}

// Not randomUUID: a tablet on plain http has none.
function freshKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (part) => part.toString(16).padStart(2, "0")).join("");
}

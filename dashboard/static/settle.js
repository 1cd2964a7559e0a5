// Which live words are worth saying aloud: few, only when something changed and stayed so.  Pure.
const SETTLED_MS = 2500;
const LEAST_APART_MS = 8000;

// Decides when live words are worth saying: when they held for a while and are new.  Pure.
export function settle(memory, words, now_ms) {
  if (words !== memory.words) return { ...memory, words, since_ms: now_ms, speak: null };
  const held = now_ms - memory.since_ms >= SETTLED_MS;
  const apart = now_ms - memory.spoken_ms >= LEAST_APART_MS;
  if (held && apart && words !== memory.spoken) {
    return { ...memory, spoken: words, spoken_ms: now_ms, speak: words };
  }
  return { ...memory, speak: null };
}

export const SILENT = { words: null, since_ms: 0, spoken: null, spoken_ms: -Infinity, speak: null };

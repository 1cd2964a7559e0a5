// The bench as this screen knows it: the last state, the live colour, the booth, and how old each is.
// The pure parts (takeState, freshness) are given the time; the rest asks the clock.
export const STALE_MS = 2000;
export const LOST_MS = 4500;

export const bench = {
  state: null, live: null, live_ms: -Infinity, booth_ms: -Infinity,
  heard_ms: -Infinity, broken: false, lost_since_ms: null,
};

// A whole state came.  A reading that is in it may be older than the state.  Pure but for `known`.
export function takeState(known, state, now_ms) {
  const same = known.state !== null && known.live?.at === state.live?.at;
  if (!same) {
    const age_ms = known.state === null && state.live ? Date.parse(state.at) - Date.parse(state.live.at) : 0;
    known.live_ms = now_ms - Math.max(0, age_ms || 0);
  }
  known.state = state;
  known.live = state.live;
  known.booth_ms = now_ms;
  hear(known, now_ms);
}

export function takeColour(known, live, now_ms) {
  known.live = live;
  known.live_ms = now_ms;
  hear(known, now_ms);
}

export function takeBooth(known, booth, now_ms) {
  if (known.state) known.state.booth = booth;
  known.booth_ms = now_ms;
  hear(known, now_ms);
}

export function hear(known, now_ms) {
  known.heard_ms = now_ms;
  known.broken = false;
}

// A sleeping tablet's monotonic clock may stand still: what the wall clock went ahead of it, was slept
// through, and everything shown is so much older.  Returns the ms slept.  Pure but for `known`.
export function wake(known, now_ms, wall_ms) {
  const ahead_ms = wall_ms - now_ms;
  const slept_ms = known.ahead_ms === undefined ? 0 : ahead_ms - known.ahead_ms;
  known.ahead_ms = ahead_ms;
  if (slept_ms < STALE_MS) return 0; // the clock was set a little, or back
  for (const name of ["live_ms", "booth_ms", "heard_ms"]) known[name] -= slept_ms;
  return slept_ms;
}

// Whether the link is there, and whether what is shown is old.  The bench speaks every second.  Pure.
export function freshness(known, now_ms) {
  const connected = !known.broken && now_ms - known.heard_ms < LOST_MS;
  const live_age_ms = now_ms - known.live_ms;
  return {
    connected,
    silent_ms: now_ms - known.heard_ms,
    live_age_ms,
    stale: !connected || live_age_ms > STALE_MS,
  };
}

export const now_ms = () => performance.now();

// What is not needed for the first live reading: fetched once that is on the screen.  What only one place
// shows is in that place's own `at_….js`, fetched when the place is gone to.
import * as coats from "./coats.js";
import * as instruments from "./instruments.js";
import * as settings from "./settings.js";
import * as stock from "./stock.js";
import * as strips from "./strips.js";

for (const part of [settings, strips, coats, instruments]) part.setUp();

export { coats, strips };
export const drawAlways = (state) => instruments.drawSteps(state.calibration.state);
export const keepUp = () => coats.keepUp();
export const refreshShelf = () => stock.refresh();

// A new address each time, for a browser may remember that an address failed.
const again = (tried) => (tried ? `?tried=${tried}` : "");
const FETCH = {
  mixing: (tried) => import(`./at_mixing.js${again(tried)}`),
  booth: (tried) => import(`./at_booth.js${again(tried)}`),
  coats: (tried) => import(`./at_coats.js${again(tried)}`),
  "looking-back": (tried) => import(`./at_looking_back.js${again(tried)}`),
  shelf: (tried) => import(`./at_shelf.js${again(tried)}`),
  instruments: (tried) => import(`./at_instruments.js${again(tried)}`),
  settings: (tried) => import(`./at_settings.js${again(tried)}`),
};

// Each place's own part once it has come; `came` is told then.  Asked for again until it comes.
const parts = {};
const asked = new Set();
export const part = (place) => parts[place] ?? null;

export function fetchPart(place, came, tried = 0) {
  if (parts[place] || (asked.has(place) && tried === 0)) return;
  asked.add(place);
  FETCH[place](tried).then((loaded) => {
    parts[place] = loaded;
    came(place);
  }, () => setTimeout(() => fetchPart(place, came, tried + 1), 1000));
}

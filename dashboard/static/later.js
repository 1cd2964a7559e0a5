// The places that are not needed for the first live reading: fetched once that is on the screen.
import * as air from "./air.js";
import * as booth from "./booth.js";
import * as chart from "./chart.js";
import * as coatForm from "./coat_form.js";
import * as coats from "./coats.js";
import * as findings from "./findings.js";
import * as instruments from "./instruments.js";
import * as back from "./looking_back.js";
import * as more from "./more.js";
import * as settings from "./settings.js";
import * as shelf from "./shelf.js";
import * as sheet from "./sheet.js";
import * as strips from "./strips.js";

for (const place of [
  settings, booth, strips, coats, back, findings, shelf, instruments, chart, more,
  air, sheet,
]) place.setUp();

export { coats, strips };
export const drawAlways = (state) => {
  instruments.drawSteps(state.calibration.state);
  more.drawMore();
};
export const keepUp = () => coats.keepUp();
export const drawBoothLive = () => booth.drawLive();
export const refreshShelf = () => shelf.refresh();

// What a place does when it is gone to, with the rest of its address.
export const ARRIVE = {
  mixing: () => {
    shelf.refresh();
    more.arrive();
  },
  booth: () => {
    strips.refill();
    coatForm.refresh();
  },
  coats: (id) => coats.open(id),
  "looking-back": (...rest) => {
    back.choose(...rest);
    findings.refresh();
  },
  shelf: () => shelf.refresh(),
  instruments: () => chart.refreshChecks(),
  settings: () => {},
};

export const DRAW = {
  booth: () => {
    booth.drawState();
    air.drawAir();
  },
  coats: coats.drawCoats,
  "looking-back": back.drawBack,
  shelf: shelf.drawShelf,
  instruments: () => {
    instruments.drawInstruments();
    chart.drawChart();
    chart.drawChecks();
  },
  settings: () => {},
};

// What only the instruments show.
import * as chart from "./chart.js";
import * as instruments from "./instruments.js";

chart.setUp();

export const arrive = () => chart.refreshChecks();

export function draw() {
  instruments.drawInstruments();
  chart.drawChart();
  chart.drawChecks();
}

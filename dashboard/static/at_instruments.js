// What only the instruments show.
import * as chart from "./chart.js";
import * as commonChart from "./common_chart.js";
import * as instruments from "./instruments.js";

chart.setUp();
commonChart.setUp();

export function arrive() {
  chart.refreshChecks();
  commonChart.refresh();
}

export function draw() {
  instruments.drawInstruments();
  chart.drawChart();
  chart.drawChecks();
}

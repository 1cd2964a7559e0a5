// What only the booth shows.
import * as air from "./air.js";
import * as booth from "./booth.js";
import * as coatForm from "./coat_form.js";
import * as equipment from "./equipment.js";
import * as strips from "./strips.js";

for (const part of [booth, air]) part.setUp();

export function arrive() {
  strips.refill();
  coatForm.refresh();
  equipment.refreshAirbrushes();
}

export function draw() {
  booth.drawState();
  air.drawAir();
}

export const drawLive = () => booth.drawLive();

// What only the mixing place shows, below the match.
import * as more from "./more.js";
import * as stock from "./stock.js";

more.setUp();

export function arrive() {
  stock.refresh();
  more.arrive();
}

export const draw = () => more.drawMore();

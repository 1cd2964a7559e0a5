// What only the coats place shows.
import * as coats from "./coats.js";
import { refreshFindings } from "./findings_held.js";

export function arrive(id) {
  coats.open(id);
  refreshFindings();
}

export const draw = () => coats.drawCoats();

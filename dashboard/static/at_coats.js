// What only the coats place shows.
import * as coats from "./coats.js";

export const arrive = (id) => coats.open(id);
export const draw = () => coats.drawCoats();

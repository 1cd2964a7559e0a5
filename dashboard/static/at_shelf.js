// What only the shelf shows.
import * as shelf from "./shelf.js";
import * as sheet from "./sheet.js";

for (const part of [shelf, sheet]) part.setUp();

export const arrive = () => shelf.refresh();
export const draw = () => shelf.drawShelf();

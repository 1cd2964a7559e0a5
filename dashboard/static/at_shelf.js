// What only the shelf shows.
import * as shelf from "./shelf.js";
import * as sheet from "./sheet.js";
import * as photographs from "./photographs.js";
import * as targets from "./targets.js";

for (const part of [shelf, sheet, targets, photographs]) part.setUp();

export const arrive = () => shelf.refresh();
export const draw = () => shelf.drawShelf();

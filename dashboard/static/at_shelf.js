// What only the shelf shows.
import { elements } from "./selectors.js";
import * as shelf from "./shelf.js";
import * as sheet from "./sheet.js";
import * as targets from "./targets.js";

for (const part of [shelf, sheet, targets]) part.setUp();

// What photographs need comes once their form is unfolded; until then it takes no tap.  Asked for again
// until it comes, at a new address, for a browser may remember that an address failed.
const { photoForm } = elements;
function fetchPhotographs(tried = 0) {
  import(`./photographs.js${tried ? `?tried=${tried}` : ""}`).then((part) => {
    part.setUp();
    photoForm.inert = false;
  }, () => setTimeout(() => fetchPhotographs(tried + 1), 1000));
}
photoForm.inert = true;
photoForm.closest("details").addEventListener("toggle", () => fetchPhotographs(), { once: true });

export const arrive = () => shelf.refresh();
export const draw = () => shelf.drawShelf();

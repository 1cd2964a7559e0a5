// What only looking back shows.
import * as findings from "./findings.js";
import * as back from "./looking_back.js";

for (const part of [back, findings]) part.setUp();

export function arrive(...rest) {
  back.choose(...rest);
  findings.refresh();
}

export const draw = () => back.drawBack();

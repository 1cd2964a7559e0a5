// What only looking back shows.
import * as evenings from "./evenings.js";
import * as findings from "./findings.js";
import * as back from "./looking_back.js";

for (const part of [back, findings, evenings]) part.setUp();

export function arrive(...rest) {
  back.choose(...rest);
  findings.refresh();
  evenings.refresh();
}

export const draw = () => back.drawBack();

// What only the settings show.
import * as record from "./record.js";

record.setUp();

export const arrive = () => record.refresh();
export function draw() {}

// What stands on the shelf and which targets are on record: their names for the mixing place, all of it
// for the shelf.
import { bench } from "./bench.js";

export const stock = { paints: [], reducers: [], targets: [] };
const listeners = [];
export const onStock = (listener) => listeners.push(listener);

export async function refresh() {
  try {
    const answers = await Promise.all([fetch("/api/shelf"), fetch("/api/targets")]);
    if (answers.some((answer) => !answer.ok)) return;
    const [shelf, targets] = await Promise.all(answers.map((answer) => answer.json()));
    Object.assign(stock, shelf, { targets });
    bench.paints = stock.paints.map((paint) => paint.name);
    bench.reducers = stock.reducers.map((reducer) => reducer.name);
    for (const listener of listeners) listener();
  } catch {
    // the connection line says so
  }
}

// Calibration steps, the tile's certificate as typed, devices in words.  Pure.
import { strings } from "./strings.js";
import { dayAndTime, fill, many, number, typedNumber } from "./words.js";

const say = strings.instruments;

export function calibrationSteps(state) {
  const at = state.calibration.state;
  if (at === "no board") return { dark: "later", white: "later" };
  if (at === "none") return { dark: "now", white: "later" };
  // A calibration begun anew waits for its tile, while the old one is still in force.
  if (at === "dark measured" || state.calibration.tile_next) return { dark: "done", white: "now" };
  return { dark: "done", white: "done" };
}

// How long a calibration holds, and what ends it sooner; nothing where none is in force.
export function holdsWords(calibration) {
  if (calibration.state !== "ready" || !calibration.at || calibration.due?.length) return "";
  const until = Date.parse(calibration.at) + calibration.holds_h * 3_600_000;
  return fill(say.holds, { time: dayAndTime(until), allowed: number(calibration.check_allowed_de00, 1) });
}

const FLAT_NM = Array.from({ length: 41 }, (_, at) => 380 + 10 * at);

// One number alone is a tile that reflects so much at every wavelength.
function flatTile(lines) {
  const value = lines.length === 1 ? typedNumber(lines[0].replace("%", "")) : null;
  const share = value > 1.5 ? value / 100 : value;
  return share > 0 && share <= 1 ? { wavelength_nm: FLAT_NM, reflectance: FLAT_NM.map(() => share) } : null;
}

// Lines of "nm reflectance", or one value alone; [] is no certificate.  Percent is taken where any value is above 1.5.
export function readTile(text) {
  const lines = text.split("\n").map((line) => line.trim()).filter(Boolean);
  const flat = flatTile(lines);
  if (flat) return flat;
  const [wavelength_nm, reflectance] = [[], []];
  for (const [at, line] of lines.entries()) {
    const values = line.split(/[\s;]+|,\s+|,(?=\d*\.)/).filter(Boolean).map(typedNumber);
    if (values.length !== 2 || values.includes(null)) {
      return { words: fill(say.tile_bad, { n: at + 1, text: line.slice(0, 30) }) };
    }
    wavelength_nm.push(values[0]);
    reflectance.push(values[1]);
  }
  if (lines.length > 0 && lines.length < 6) return { words: fill(say.tile_few, { n: lines.length }) };
  const percent = reflectance.some((value) => value > 1.5);
  return { wavelength_nm, reflectance: percent ? reflectance.map((value) => value / 100) : reflectance };
}

export function deviceCounts(device) {
  return [
    device.lost_readings ? many(say.lost, device.lost_readings) : "",
    device.failed_lines ? many(say.failed, device.failed_lines) : "",
  ].filter(Boolean).join(", ");
}

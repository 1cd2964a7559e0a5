// CIEDE2000 and its contour on the a*b* plane.  Pure.
// Formula: Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Color Res. Appl. 30 (2005),
// eqs. 2 to 22, kL = kC = kH = 1; its table of 34 pairs is held in tests/dashboard_colour.test.mjs.
const RAD = Math.PI / 180;
const C7 = 25 ** 7;

function hue(a, b) {
  if (a === 0 && b === 0) return 0;
  const angle = Math.atan2(b, a) / RAD;
  return angle < 0 ? angle + 360 : angle;
}

function hueDifference(h1, h2, noHue) {
  if (noHue) return 0;
  const d = h2 - h1;
  return d > 180 ? d - 360 : d < -180 ? d + 360 : d;
}

function hueMean(h1, h2, noHue) {
  if (noHue) return h1 + h2;
  if (Math.abs(h1 - h2) <= 180) return (h1 + h2) / 2;
  return h1 + h2 < 360 ? (h1 + h2 + 360) / 2 : (h1 + h2 - 360) / 2;
}

export function ciede2000([l1, a1, b1], [l2, a2, b2]) {
  const meanC7 = ((Math.hypot(a1, b1) + Math.hypot(a2, b2)) / 2) ** 7;
  const g = 0.5 * (1 - Math.sqrt(meanC7 / (meanC7 + C7)));
  const [x1, x2] = [(1 + g) * a1, (1 + g) * a2];
  const [c1, c2] = [Math.hypot(x1, b1), Math.hypot(x2, b2)];
  const [h1, h2] = [hue(x1, b1), hue(x2, b2)];
  const noHue = c1 * c2 === 0;
  const dH = 2 * Math.sqrt(c1 * c2) * Math.sin((hueDifference(h1, h2, noHue) / 2) * RAD);
  const l = (l1 + l2) / 2;
  const c = (c1 + c2) / 2;
  const h = hueMean(h1, h2, noHue);
  const t = 1 - 0.17 * Math.cos((h - 30) * RAD) + 0.24 * Math.cos(2 * h * RAD)
    + 0.32 * Math.cos((3 * h + 6) * RAD) - 0.2 * Math.cos((4 * h - 63) * RAD);
  const sL = 1 + (0.015 * (l - 50) ** 2) / Math.sqrt(20 + (l - 50) ** 2);
  const sC = 1 + 0.045 * c;
  const sH = 1 + 0.015 * c * t;
  const turn = 30 * Math.exp(-(((h - 275) / 25) ** 2));
  const rT = -Math.sin(2 * turn * RAD) * 2 * Math.sqrt(c ** 7 / (c ** 7 + C7));
  const [dL, dC, dHs] = [(l2 - l1) / sL, (c2 - c1) / sC, dH / sH];
  return Math.sqrt(dL ** 2 + dC ** 2 + dHs ** 2 + rT * dC * dHs);
}

// Distance from `lab` along an angle at which CIEDE2000 equals `de`, lightness kept: by bisection.
function reach([l, a, b], de, angle) {
  const [ca, cb] = [Math.cos(angle), Math.sin(angle)];
  let [low, high] = [0, 1];
  while (ciede2000([l, a, b], [l, a + high * ca, b + high * cb]) < de && high < 200) high *= 2;
  for (let turn = 0; turn < 26; turn += 1) {
    const middle = (low + high) / 2;
    if (ciede2000([l, a, b], [l, a + middle * ca, b + middle * cb]) < de) low = middle;
    else high = middle;
  }
  return high;
}

// The points [a, b] round `lab` where CIEDE2000 equals `de` at the lightness of `lab`.
export function contour(lab, de, points = 48) {
  return Array.from({ length: points }, (_, at) => {
    const angle = (2 * Math.PI * at) / points;
    const r = reach(lab, de, angle);
    return [lab[1] + r * Math.cos(angle), lab[2] + r * Math.sin(angle)];
  });
}

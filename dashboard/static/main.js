// The page's composition: places, address, stream; each place draws itself from the bench's state.
import { afterEveryAct, alarm } from "./act.js";
import { announce } from "./announce.js";
import { bench, freshness, hear, now_ms, takeBooth, takeColour, takeState, wake } from "./bench.js";
import * as coatMark from "./coat_mark.js";
import { say } from "./dom.js";
import * as flags from "./flags.js";
import * as mixing from "./mixing.js";
import { onPrefs, prefs } from "./prefs.js";
import { elements } from "./selectors.js";
import { listen } from "./stream.js";
import { strings } from "./strings.js";
import { age, fill } from "./words.js";

const PLACES = ["mixing", "booth", "coats", "looking-back", "shelf", "instruments", "settings"];
let later = null;
let here = "mixing";
let rest = [];
let wasConnected = null;
// The place was gone to and its own part had not come: the focus is owed to a spot within.
let owed = false;

document.documentElement.dataset.light = prefs.light;

function draw() {
  const { state } = bench;
  if (!state) return;
  say(elements.benchName, state.bench);
  flags.drawMark();
  flags.drawCautions();
  coatMark.drawMark(state);
  later?.drawAlways(state);
  if (!state.store.writable) alarm(fill(strings.link.store_down, { words: state.store.words }));
  if (here === "mixing") mixing.drawState();
  later?.part(here)?.draw();
  drawLink();
}

function drawLive() {
  if (here === "mixing") mixing.drawLive();
  else if (here === "booth") later?.part("booth")?.drawLive();
}

function drawLink() {
  const fresh = freshness(bench, now_ms());
  const never = !Number.isFinite(bench.heard_ms);
  const lost = never ? strings.link.never : fill(strings.link.lost, { age: age(fresh.silent_ms) });
  const quiet = never && now_ms() < 3000 ? strings.link.connecting : lost;
  // The age ticks for the eye; only the change itself is for the ear.
  say(elements.connection, fresh.connected ? strings.link.live : quiet);
  if (fresh.connected === wasConnected) return;
  document.body.classList.toggle("lost", !fresh.connected && !(never && now_ms() < 3000));
  if (wasConnected === false && fresh.connected && bench.lostOnce) {
    announce(strings.link.back);
    later?.strips.refill();
  }
  if (wasConnected === true) bench.lostOnce = true;
  wasConnected = fresh.connected;
}

// --- address ----------------------------------------------------------------------------------------

function go() {
  const [name, ...others] = location.hash.slice(1).split("/");
  here = PLACES.includes(name) ? name : "mixing";
  rest = others;
  for (const section of elements.place.children) section.hidden = section.dataset.place !== here;
  for (const link of elements.places.children) {
    if (link.dataset.to === here) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  document.title = fill(strings.place.page, { place: strings.place[here], bench: bench.state?.bench ?? "" });
  if (here !== "coats") later?.coats.open(null);
  later?.part(here)?.arrive(...rest);
  drawReady();
  draw();
  later?.fetchPart(here, (come) => come === here && (owed ? arrive() : go()));
}

// What is still on its way takes no tap and no key: nothing that is done there is lost.
function drawReady() {
  const waiting = !later?.part(here);
  document.body.dataset.ready = waiting ? "some" : "all";
  for (const child of document.querySelector(`[data-place="${here}"]`).children) {
    const comesLater = here === "mixing" ? child.id === "more" : child.tagName !== "H1";
    child.inert = waiting && comesLater;
  }
}

function arrive() {
  owed = !later?.part(location.hash.slice(1).split("/")[0]);
  go();
  const within = { flags: elements.flagsSheet, coat: elements.coat }[rest[0]];
  const heading = document.querySelector(`[data-place="${here}"] h1`);
  const spot = here === "booth" && within ? within : heading;
  spot.focus({ preventScroll: true });
  if (spot === within) spot.scrollIntoView();
  else scrollTo(0, 0);
}

// --- news -------------------------------------------------------------------------------------------

const take = {
  state(value) {
    const first = bench.state === null;
    takeState(bench, value, now_ms());
    if (first) go();
    else draw();
    later?.keepUp();
  },
  colour(value) {
    takeColour(bench, value, now_ms());
    if (here === "mixing") mixing.drawLive();
  },
  booth(value) {
    takeBooth(bench, value, now_ms());
    if (bench.state) later?.strips.takeLive(value);
    // The charts follow with the state, once a second: a point more is not seen sooner.
    if (here === "booth") drawLive();
  },
};

let shelfKey = "";
async function look() {
  try {
    const answer = await fetch("/api/bench");
    if (!answer.ok) return;
    take.state(await answer.json());
    const key = JSON.stringify([bench.state.target?.id, bench.state.batch?.lines]);
    if (key !== shelfKey) await later?.refreshShelf();
    shelfKey = key;
  } catch {
    bench.broken = true;
    drawLink();
  }
}

go();
const link = listen((kind, value) => take[kind](value), (broken) => {
  if (broken) bench.broken = true;
  else hear(bench, now_ms());
  drawLink();
});
for (const part of [mixing, flags]) part.setUp();
afterEveryAct(look);
elements.alertClose.addEventListener("click", () => alarm(""));
addEventListener("hashchange", arrive);
// A form whose place is still on its way sends nothing by itself.
addEventListener("submit", (event) => event.preventDefault(), true);
addEventListener("keydown", (event) => {
  const typing = event.target.closest?.("input, select, textarea");
  if (!prefs.keys || typing || event.repeat || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key.toLowerCase() === "m" && here === "mixing") mixing.measure();
});
onPrefs(draw);
function tick() {
  const slept = wake(bench, now_ms(), Date.now());
  drawLink();
  drawLive();
  if (slept) link.renew();
}
wake(bench, now_ms(), Date.now()); // a sleep before the first tick is a sleep too
setInterval(tick, 500);
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  tick();
  draw();
});

// The bench may go away before the other places have come: ask again until it is back.  A new
// address each time, for a browser may remember that an address failed.
function fetchLater(tried = 0) {
  import(tried ? `./later.js?tried=${tried}` : "./later.js").then(
    (loaded) => {
      later = loaded;
      go();
      if (bench.state) later.keepUp();
    },
    () => setTimeout(() => fetchLater(tried + 1), 1000),
  );
}
fetchLater();

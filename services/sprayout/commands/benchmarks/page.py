"""How fast and how light the page is, in headless Chromium at a quarter of this machine's speed.

Event to screen is taken from the moment the browser hands the event over (its ``timeStamp``) to
the end of the frame in which it is drawn, for live colours replayed ten times a second on the
mixing place and for the booth's own ten climate readings a second.
"""

import contextlib
import os
import statistics
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sprayout.commands.benchmarks.page_bench import PageBench, page_bench
from sprayout.errors import BadInput

PLACES = ("mixing", "booth", "coats", "looking-back", "shelf", "instruments", "settings")
THROTTLE = 4
CLIENTS = 20
FAST = "colour_interval_s = 0.5\nclimate_interval_s = 0.1\n"
USUAL = "colour_interval_s = 0.5\nclimate_interval_s = 1.0\n"
CHROMIUM = (
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-quic",
)  # fmt: skip

#: Times each event to the end of its frame; on request repeats the last colour ten times a second.
WATCH = """
window.timings = { colour: [], booth: [], state: [] };
const Plain = window.EventSource;
window.EventSource = class extends Plain {
  constructor(...given) { super(...given); window.stream = this; }
  addEventListener(kind, listener) {
    super.addEventListener(kind, (event) => {
      if (kind === 'colour') window.lastColour = event.data;
      listener(event);
      if (!window.timings[kind]) return;
      requestAnimationFrame(() => {
        const channel = new MessageChannel();
        const done = () => window.timings[kind].push(performance.now() - event.timeStamp);
        channel.port1.onmessage = done;
        channel.port2.postMessage(0);
      });
    });
  }
};
window.repeatColours = () => setInterval(() => {
  const live = JSON.parse(window.lastColour);
  live.lab = live.lab.map((value) => value + Math.random() - 0.5);
  live.de00 = Math.random() * 3;
  window.stream.dispatchEvent(new MessageEvent('colour', { data: JSON.stringify(live) }));
}, 100);
"""
FIRST_READING = """() => new Promise((done) => {
  const look = () => /\\d/.test(document.getElementById('de00').textContent)
    ? done(performance.now()) : requestAnimationFrame(look);
  look();
})"""
FIRST_PAINT = (
    "() => performance.getEntriesByType('paint')"
    ".find((e) => e.name === 'first-contentful-paint').startTime"
)


def run(quick: bool) -> dict[str, object]:
    """Return the figures; `quick` looks for less time at each."""
    rounds, seconds = (2, 5.0) if quick else (5, 30.0)
    with tempfile.TemporaryDirectory() as folder, page_bench(Path(folder), FAST) as bench:
        bench.calibrate()
        bench.set_target()
        with chromium() as browser:
            starts = [_start(browser, bench) for _ in range(rounds)]
            updates = {
                "colour": _updates(browser, bench, "mixing", "colour", seconds),
                "booth": _updates(browser, bench, "booth", "booth", seconds),
            }
    with tempfile.TemporaryDirectory() as folder, page_bench(Path(folder), USUAL) as bench:
        bench.calibrate()
        bench.set_target()
        with chromium() as browser:
            weights = {place: _weight(browser, bench, place) for place in PLACES}
        alone_pct = _cpu_pct(bench, seconds)
        with _listeners(bench, CLIENTS):
            crowd_pct = _cpu_pct(bench, seconds)
    paint_ms, live_ms = (statistics.median(column) for column in zip(*starts, strict=True))
    heaviest = max(weights, key=lambda place: weights[place])
    clients = f"serve, {CLIENTS} pages listening: % of one core more than with none"
    return {
        "throttle": THROTTLE,
        "transferred_kb": {place: round(size / 1000, 1) for place, size in weights.items()},
        "updates_timed": {kind: len(times) for kind, times in updates.items()},
        "figures": [
            _figure("first paint, median, ms", paint_ms, 1000),
            _figure("first live reading, median, ms", live_ms, 1500),
            _figure(f"heaviest place ({heaviest}), transferred kB", weights[heaviest] / 1000, 150),
            _figure("10 Hz colour, event to screen, p50, ms", _pick(updates["colour"], 50), None),
            _figure("10 Hz colour, event to screen, p99, ms", _pick(updates["colour"], 99), 50),
            _figure("10 Hz climate, event to screen, p50, ms", _pick(updates["booth"], 50), None),
            _figure("10 Hz climate, event to screen, p99, ms", _pick(updates["booth"], 99), 50),
            _figure("serve, no page listening: % of one core", alone_pct, None),
            _figure(clients, crowd_pct - alone_pct, 10),
        ],
    }


def _figure(name: str, value: float, goal: float | None) -> dict[str, object]:
    return {
        "figure": name,
        "value": round(value, 1),
        "goal": None if goal is None else f"<= {goal:g}",
        "met": None if goal is None else value <= goal,
    }


def _pick(times: list[float], percent: int) -> float:
    return statistics.quantiles(times, n=100)[percent - 1]


@contextlib.contextmanager
def chromium() -> Iterator[Any]:
    """Run Debian's Chromium; raises BadInput where it or playwright is missing."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError as error:
        raise BadInput("page: playwright is missing; install sprayout[test]") from error
    path = next(
        (p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).exists()), ""
    )
    if not path:
        raise BadInput("page: no chromium on this machine; install Debian's package chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(CHROMIUM))
        try:
            yield browser
        finally:
            browser.close()


@contextlib.contextmanager
def _throttled(browser: Any) -> Iterator[tuple[Any, Any]]:
    """A page of a fresh profile, nothing cached, and its line to the browser's own instruments."""
    context = browser.new_context(viewport={"width": 820, "height": 1180}, bypass_csp=True)
    try:
        page = context.new_page()
        page.add_init_script(WATCH)
        instruments = context.new_cdp_session(page)
        instruments.send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
        yield page, instruments
    finally:
        context.close()


def _start(browser: Any, bench: PageBench) -> tuple[float, float]:
    with _throttled(browser) as (page, _):
        page.goto(bench.address, wait_until="commit")
        live_ms = page.evaluate(FIRST_READING)
        return float(page.evaluate(FIRST_PAINT)), float(live_ms)


def _weight(browser: Any, bench: PageBench, place: str) -> float:
    """Bytes on the wire for a place from nothing cached, and the first five seconds of stream."""
    sizes: list[float] = []
    with _throttled(browser) as (page, instruments):
        streams: set[str] = set()

        def began(event: dict[str, Any]) -> None:
            if event["request"]["url"].endswith("/api/live"):
                streams.add(event["requestId"])

        def came(event: dict[str, Any]) -> None:
            if event["requestId"] in streams:
                sizes.append(event["dataLength"])

        instruments.on("Network.requestWillBeSent", began)
        instruments.on("Network.dataReceived", came)
        instruments.on("Network.loadingFinished", lambda e: sizes.append(e["encodedDataLength"]))
        instruments.send("Network.enable")
        page.goto(f"{bench.address}#{place}")
        page.wait_for_timeout(5000)
    return sum(sizes)


def _updates(browser: Any, bench: PageBench, place: str, kind: str, seconds: float) -> list[float]:
    with _throttled(browser) as (page, _):
        page.goto(f"{bench.address}#{place}")
        page.wait_for_function("window.lastColour !== undefined")
        page.wait_for_timeout(2000)
        if kind == "colour":
            page.evaluate("window.repeatColours()")
        page.evaluate(f"window.timings.{kind} = []")
        page.wait_for_timeout(seconds * 1000)
        return [float(ms) for ms in page.evaluate(f"window.timings.{kind}")]


@contextlib.contextmanager
def _listeners(bench: PageBench, count: int) -> Iterator[None]:
    """As many open live streams, each read as it comes."""
    stop = threading.Event()

    def listen() -> None:
        with urllib.request.urlopen(bench.address + "api/live", timeout=60) as stream:
            while not stop.is_set() and stream.readline():
                pass

    threads = [threading.Thread(target=listen, daemon=True) for _ in range(count)]
    for thread in threads:
        thread.start()
    time.sleep(2.0)
    try:
        yield
    finally:
        stop.set()
        for thread in threads:
            thread.join(5)


def _cpu_pct(bench: PageBench, seconds: float) -> float:
    """CPU of the server in per cent of one core, from /proc (Linux)."""
    assert bench.process is not None
    stat = Path(f"/proc/{bench.process.pid}/stat")
    ticks = os.sysconf("SC_CLK_TCK")

    def used_s() -> float:
        fields = stat.read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / ticks

    before_s, from_s = used_s(), time.monotonic()
    time.sleep(seconds)
    return 100 * (used_s() - before_s) / (time.monotonic() - from_s)

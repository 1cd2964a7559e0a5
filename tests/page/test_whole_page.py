"""The whole page for those who cannot point, see colours or stay awake: the keyboard in every
place, simulated colour-vision deficiencies, a tablet that slept for an hour, sound, screen-wake."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from sprayout.commands.benchmarks.page import PLACES
from sprayout.commands.benchmarks.page_bench import PageBench, page_bench
from tests.page_screen import FAST, LIVE, go

pytestmark = pytest.mark.needs("chromium")

PICTURES = Path(__file__).resolve().parent.parent.parent / "artifacts" / "page"
DEFICIENCIES = ("deuteranopia", "protanopia", "tritanopia", "achromatopsia")
CONTROLS = "a, button, summary, select, textarea, input, .table"


@pytest.fixture(scope="module")
def bench(tmp_path_factory) -> Iterator[PageBench]:
    """Calibrated, with a target, a thinned cup and its reading, a booth, a coat and a finding."""
    with page_bench(tmp_path_factory.mktemp("bench"), FAST, speed=5.0) as running:
        running.calibrate()
        running.set_target()
        running.ask("/api/paints", {"name": "ice-van white", "family": "enamel", "white": True})
        shares = {"n-butyl acetate": 0.6, "toluene": 0.4}
        running.ask("/api/reducers", {"name": "slipway thinner", "solvents": shares})
        running.ask("/api/batches", {"name": "cup of the evening"})
        running.ask("/api/batches/additions", {"paint": "ice-van white", "drops": 40})
        running.ask("/api/batches/thinning", {"reducer": "slipway thinner", "ml": 2})
        running.world.fresh_cup()
        running.world.add_drops("ice-van white", 40)
        running.world.place("cup")
        running.ask("/api/swatches", {})
        running.ask("/api/booth", {"name": "window booth", "volume_m3": 0.4, "flow_m3h": 700})
        running.ask("/api/cautions/read", {"person": "A. Volunteer"})
        coat = running.ask("/api/coats", {"piece": "tin tram", "kind": "tack coat"})
        running.ask(f"/api/coats/{coat['id']}/end", {})
        running.ask("/api/findings", {"piece": "tin tram", "coat": coat["id"], "defect": "blush"})
        yield running


@pytest.fixture(autouse=True)
def desktop(page) -> None:
    page.set_viewport_size({"width": 1440, "height": 900})


# --- the keyboard -------------------------------------------------------------------------------

REACHABLE = f"""() => [...document.querySelectorAll('[data-place]:not([hidden])')]
    .flatMap((place) => [...place.querySelectorAll('{CONTROLS}')])
    .filter((e) => e.checkVisibility() && !e.disabled && e.tabIndex >= 0
      && !(e.type === 'radio' && !e.checked))"""
MISSED = f"({REACHABLE})().filter((e) => !e.dataset.seen).map((e) => e.outerHTML.slice(0, 90))"
FOCUSED = f"""() => {{ const e = document.activeElement; const style = getComputedStyle(e);
    e.dataset.seen ??= String(Math.random());
    return {{ seen: e.dataset.seen, name: e.outerHTML.slice(0, 90),
      ours: e.matches('[data-place] :is({CONTROLS})'),
      outline: style.outlineStyle, width: parseFloat(style.outlineWidth) }}; }}"""


@pytest.mark.parametrize("place", PLACES)
def test_the_keyboard_alone_reaches_every_control_and_each_has_a_name(page, bench, place) -> None:
    go(page, bench, place)
    page.evaluate("document.querySelectorAll('main details').forEach((d) => d.open = true)")
    # What is redrawn meanwhile is reached in the second round.
    most = 2 * page.evaluate(f"({REACHABLE})().length") + 120
    for pressed in range(most):
        if pressed % 20 == 0 and page.evaluate(MISSED) == []:
            break
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUSED)
        if focus["ours"]:
            assert (focus["outline"], focus["width"] >= 3) == ("solid", True), focus
    assert page.evaluate(MISSED) == []
    assert nameless(page) == []


def nameless(page) -> list[str]:
    """Controls that a screen reader would call by nothing, as Chromium's own tree has them."""
    tree = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")["nodes"]
    focusable = (
        node
        for node in tree
        if any(p["name"] == "focusable" and p["value"]["value"] for p in node.get("properties", ()))
    )
    roles = ("RootWebArea", "generic", "main")
    return [
        node["role"]["value"]
        for node in focusable
        if node["role"]["value"] not in roles
        and not node["ignored"]
        and not str(node.get("name", {}).get("value", "")).strip()
    ]


# --- colour-vision deficiencies -----------------------------------------------------------------

LEVELS = r"""() => [...document.querySelectorAll('[data-place]:not([hidden]) :is(.flag, .level, '
    + '.evening, #verdict), #flags-mark, .warnings li, .error')]
    .filter((e) => e.checkVisibility() && e.textContent.trim())
    .map((e) => (e.querySelector('.margin') ?? e).textContent.trim())"""
#: A shape, or a word that stands for the level.
TOLD = (
    "○", "?", "▲", "■", "●", "✱", "✓", "≈", "✕", "Note", "Caution", "Stop", "Cannot be judged",
    "No flag up", "No answer",
)  # fmt: skip


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_every_level_is_told_by_a_word_or_a_shape_as_well_as_by_colour(page, bench, deficiency):
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setEmulatedVisionDeficiency", {"type": deficiency})
    for place, element in (
        ("mixing", "#verdict"), ("booth", "#air-answer .level"), ("looking-back", "td.evening"),
    ):  # fmt: skip
        go(page, bench, place)
        page.locator(element).first.wait_for()
        PICTURES.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=PICTURES / f"{deficiency}-{place}.png", full_page=True)
        levels = page.evaluate(LEVELS)
        assert levels
        assert [words for words in levels if not words.startswith(TOLD)] == []


def test_the_lines_of_a_chart_are_told_apart_by_their_dashes(page, bench) -> None:
    go(page, bench, "booth")
    page.locator("#strips .line").first.wait_for(state="attached")
    dashes = page.evaluate(
        """() => [...document.querySelectorAll('#strips figure')].map((figure) =>
            [...figure.querySelectorAll('svg.strip .line')]
            .map((line) => getComputedStyle(line).strokeDasharray))"""
    )
    assert max(len(chart) for chart in dashes) == 3
    assert all(len(set(chart)) == len(chart) for chart in dashes)


# --- sleep --------------------------------------------------------------------------------------

#: A sleeping tablet's monotonic clock stands still, its wall clock goes on.
SLEEPER = """
  const wall = Date.now.bind(Date);
  let slept_ms = 0;
  Date.now = () => wall() + slept_ms;
  globalThis.sleepAnHour = () => {
    slept_ms += 3_600_000;
    const woke_ms = performance.now();
    globalThis.lost_after_ms = null;
    const look = () => {
      const lost = document.body.classList.contains('lost')
        && document.getElementById('match').classList.contains('stale');
      if (lost) globalThis.lost_after_ms = performance.now() - woke_ms;
      else requestAnimationFrame(look);
    };
    look();
  };
"""


def test_a_tablet_that_slept_for_an_hour_says_that_what_it_shows_is_old(page, bench) -> None:
    page.add_init_script(SLEEPER)
    go(page, bench, "mixing")
    page.wait_for_function("!document.getElementById('match').classList.contains('stale')")
    os.kill(bench.process.pid, signal.SIGSTOP)
    try:
        page.evaluate("sleepAnHour()")
        page.wait_for_function("lost_after_ms !== null")
        # By the wall clock, that is; mere silence is taken for a lost link after 4.5 s only.
        assert page.evaluate("lost_after_ms") < 4000
        assert "OLD" in page.locator("#live-note").inner_text()
        assert "CONNECTION LOST" in page.locator("#connection").inner_text()
    finally:
        os.kill(bench.process.pid, signal.SIGCONT)
    page.wait_for_function(LIVE)
    page.wait_for_function("!document.getElementById('match').classList.contains('stale')")


def test_a_tablet_that_wakes_beside_a_running_bench_opens_its_stream_anew(page, bench) -> None:
    """After a sleep the old stream may hang open for ever: it is not waited for."""
    page.add_init_script(SLEEPER)
    go(page, bench, "booth")
    with page.expect_request("**/api/live"), page.expect_request("**/api/strip?**"):
        page.evaluate("sleepAnHour()")
    page.wait_for_function(LIVE)


def test_a_page_that_was_frozen_comes_back_with_live_readings(page, bench) -> None:
    go(page, bench, "mixing")
    session = page.context.new_cdp_session(page)
    session.send("Page.setWebLifecycleState", {"state": "frozen"})
    before = bench.ask("/api/bench")["live"]["at"]
    while bench.ask("/api/bench")["live"]["at"] == before:
        pass
    session.send("Page.setWebLifecycleState", {"state": "active"})
    page.wait_for_function(LIVE)
    page.wait_for_function("!document.getElementById('match').classList.contains('stale')")


# --- sound and screen-wake ----------------------------------------------------------------------

LISTENING = """
  globalThis.tones = 0;
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...at) { tones += 1; return start.apply(this, at); };
"""


def test_sound_and_screen_wake_are_a_wish_and_say_what_became_of_it(page, bench) -> None:
    page.add_init_script(LISTENING)
    go(page, bench, "settings")
    form = page.locator("#settings-form")
    assert not form.get_by_label("Sound when a flag").is_checked()
    assert page.evaluate("tones") == 0
    form.get_by_label("Sound when a flag").check()
    page.wait_for_function("tones === 2")
    form.get_by_label("Keep the screen awake").check()
    words = page.locator("#wake-words")
    page.wait_for_function("!/may go dark/.test(document.getElementById('wake-words').textContent)")
    granted = page.evaluate(
        "() => navigator.wakeLock.request('screen').then((l) => l.release().then(() => true), "
        "() => false)"
    )
    assert words.inner_text().startswith("The screen is kept" if granted else "This browser cannot")
    page.reload()
    page.wait_for_function("document.body.dataset.ready === 'all'")
    assert form.get_by_label("Sound when a flag").is_checked(), "kept in this browser"
    form.get_by_label("Keep the screen awake").uncheck()
    page.locator("#wake-words", has_text="may go dark").wait_for()

"""The browser and the screen that all page tests share; a fault of the page fails its test."""

from collections.abc import Iterator

import pytest

from sprayout.commands.benchmarks.page import chromium
from sprayout.commands.benchmarks.page_bench import PageBench, page_bench
from tests.page_screen import FAST, PAINTS, TABLET, WAIT_MS

SPEED = 3.0


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    """One a module: a browser left open would keep later tests from running a loop of their own."""
    with chromium() as running:
        yield running


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport=TABLET, bypass_csp=True)
    context.set_default_timeout(WAIT_MS)
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    yield opened
    context.close()
    assert faults == []


@pytest.fixture(scope="module")
def stocked(tmp_path_factory) -> Iterator[PageBench]:
    """A bench with a calibration, a target, two paints and a cup that was read."""
    with page_bench(tmp_path_factory.mktemp("forms"), FAST, speed=SPEED) as begun:
        begun.calibrate()
        begun.set_target()
        for paint in PAINTS:
            form = {"name": paint, "family": "enamel", "white": paint == PAINTS[0]}
            begun.ask("/api/paints", form)
        for parts in ({PAINTS[0]: 20}, {PAINTS[1]: 20}, {PAINTS[0]: 20, PAINTS[1]: 2}):
            begun.world.place(begun.world.shelf.drawdown(parts))
            begun.ask_again("/api/paints/swatches", {"parts": parts})
        begun.ask("/api/batches", {"name": "first cup"})
        begun.world.fresh_cup()
        for paint, drops in zip(PAINTS, (10, 6), strict=True):
            begun.world.add_drops(paint, drops)
            begun.ask("/api/batches/additions", {"paint": paint, "drops": drops})
        begun.world.stir(40)
        begun.world.place("cup")
        begun.ask_again("/api/swatches", {})
        yield begun

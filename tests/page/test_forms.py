"""The page's forms, each from empty to done and refused once: instruments, mixing, shelf."""

import re
from collections.abc import Iterator

import pytest

from sprayout.commands.benchmarks.page import chromium
from sprayout.commands.benchmarks.page_bench import PageBench, page_bench

pytestmark = pytest.mark.needs("chromium")

SPEED = 3.0
FAST = "colour_interval_s = 0.5\nclimate_interval_s = 0.5\n"
WAIT_MS = 60_000
PATCHES = ("rope", "brick", "lagoon")


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    with chromium() as running:
        yield running


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport={"width": 820, "height": 1180}, bypass_csp=True)
    context.set_default_timeout(WAIT_MS)
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    yield opened
    context.close()
    assert faults == []


@pytest.fixture(scope="module")
def bench(tmp_path_factory) -> Iterator[PageBench]:
    """A bench with a calibration and a target."""
    with page_bench(tmp_path_factory.mktemp("forms"), FAST, speed=SPEED) as begun:
        begun.calibrate()
        begun.set_target()
        yield begun


def go(page, bench: PageBench, place: str) -> None:
    page.goto(f"{bench.address}#{place}")
    page.wait_for_function("document.getElementById('connection').textContent === 'Live'")
    page.locator(f"[data-place='{place}']").wait_for(state="visible")
    # The places that come after the first reading are there once the tile's words are.
    page.wait_for_function("document.getElementById('tile-words').textContent !== ''")


def press(page, name: str, within: str = "body") -> None:
    page.locator(within).get_by_role("button", name=name, exact=True).first.click()


def unfold(page, summary: str, within: str = "main") -> None:
    page.locator(within).locator("summary", has_text=summary).first.click()


def said(page, selector: str, words: str) -> None:
    page.locator(selector, has_text=words).first.wait_for()


def certificate_of(bench: PageBench, names: tuple[str, ...]) -> str:
    """The chart's certificate as a table to paste: wavelengths, then a patch a line."""
    known = {c.name: c for c in bench.world.chart_certificates}
    first = known[names[0]]
    lines = ["name\t" + "\t".join(f"{nm:g}" for nm in first.wavelength_nm)]
    lines += [f"{name}\t" + "\t".join(map(str, known[name].reflectance)) for name in names]
    return "\n".join(lines)


def test_the_chart_from_a_pasted_certificate_to_the_finished_calibration(page, bench) -> None:
    go(page, bench, "instruments")
    unfold(page, "Chart patches")
    page.locator("#chart-run").wait_for(state="hidden")
    unfold(page, "Paste the chart's certificate")
    form = page.locator("#chart-form")
    form.get_by_label("Certificate").fill("rope 61.2 6.4 24.8\nbrick forty")
    press(page, "Keep the list in this browser", "#chart-form")
    said(page, "#chart-form-chart-error", "Line 2: got “brick forty”")
    assert "rope" in form.get_by_label("Certificate").input_value()
    form.get_by_label("Certificate").fill(certificate_of(bench, PATCHES))
    press(page, "Keep the list in this browser", "#chart-form")
    said(page, "#chart-kept", "Kept: 3 patches.")
    bench.world.place(PATCHES[0])
    said(page, "#chart-now", f"NOW: {PATCHES[0]}")
    page.locator("#chart-measure").dblclick()
    said(page, "#chart-now", f"NOW: {PATCHES[1]}")
    assert bench.ask("/api/bench")["calibration"]["patches"] == [PATCHES[0]]
    # The sensor still stands on the patch before: refused, said beside it, nothing kept.
    press(page, "Measure this patch")
    said(page, "#chart-fault", f"reads the same as patch {PATCHES[0]}")
    press(page, "Skip it")
    bench.world.place(PATCHES[2])
    press(page, "Measure this patch")
    said(page, "#chart-words", "2 of 3 patches measured")
    unfold(page, "All patches of the list")
    press(page, f"Take it out: {PATCHES[2]}")
    said(page, "#chart-words", "1 of 3 patches measured")
    press(page, f"Measure it next: {PATCHES[1]}")
    bench.world.place(PATCHES[1])
    press(page, "Measure this patch")
    said(page, "#chart-words", "2 of 3 patches measured")
    press(page, "Finish: use the 2 patches")
    said(page, "#chart-words", "The calibration in force rests on them.")
    assert "2 patches" in bench.ask("/api/bench")["calibration"]["words"]


def test_a_patch_typed_as_lab_and_a_tile_with_one_value(page, bench: PageBench) -> None:
    go(page, bench, "instruments")
    unfold(page, "Chart patches")
    unfold(page, "Type one patch")
    form = page.locator("#patch-form")
    form.get_by_label("Name of the patch").fill("slate")
    form.get_by_label("L*").fill("150")
    form.get_by_label("a*").fill("0")
    form.get_by_label("b*").fill("0")
    press(page, "Put it on the list", "#patch-form")
    said(page, "#patch-form-l-error", "L* is 150.0, wanted 0 to 100")
    form.get_by_label("L*").fill("51,3")
    press(page, "Put it on the list", "#patch-form")
    said(page, "#chart-now", "NOW: slate")
    unfold(page, "The tile's certificate")
    page.locator("#tile-form textarea").fill("190 %")
    press(page, "Keep it in this browser")
    said(page, "#tile-form-tile-error", "Line 1")
    page.locator("#tile-form textarea").fill("92 %")
    press(page, "Keep it in this browser")
    said(page, "#tile-used", "41 wavelengths")


def test_the_check_tile_becomes_the_reference_holds_and_moves(page, bench: PageBench) -> None:
    go(page, bench, "instruments")
    said(page, "#check-summary", "Not measured since the calibration.")
    assert "Holds until" in page.locator("#calibration-holds").inner_text()
    name = page.locator("#check-form").get_by_label("Name of the tile")
    name.fill("")
    press(page, "Measure the check tile")
    said(page, "#check-form-name-error", "Type a name.")
    name.fill("grey tile")
    bench.world.place("check tile")
    press(page, "Measure the check tile")
    said(page, "#check-words", "grey tile: kept as the reference")
    press(page, "Measure the check tile")
    said(page, "#check-words", "grey tile holds")
    bench.world.place("brick")
    press(page, "Measure the check tile")
    said(page, "#check-words", "grey tile MOVED")
    said(page, "#calibration-due", "DUE: the check tile moved")
    assert re.search(r"2 looks since the calibration", page.locator("#check-summary").inner_text())
    assert page.locator("#check-chart .moved").count() == 1

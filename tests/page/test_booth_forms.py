"""Booth, Coats, Looking back and Settings in headless Chromium: one record per act, every form with
what is wrong beside its field, what a person reads of air, coats and evenings."""

from collections.abc import Iterator

import pytest

from sprayout.commands.benchmarks.page import chromium
from sprayout.commands.benchmarks.page_bench import PageBench, page_bench

pytestmark = pytest.mark.needs("chromium")

FAST = "colour_interval_s = 0.5\nclimate_interval_s = 0.5\n"
WAIT_MS = 30_000
PIECE = "clockwork pilot cutter"


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def bench(tmp_path_factory) -> Iterator[PageBench]:
    """Calibrated, with a target, a thinned cup, the cautions read and one coat on record."""
    with page_bench(tmp_path_factory.mktemp("bench"), FAST, speed=5.0) as running:
        running.calibrate()
        running.set_target()
        white = {"name": "ice-van white", "family": "enamel", "white": True}
        running.ask("/api/paints", white)
        shares = {"n-butyl acetate": 0.6, "toluene": 0.4}
        running.ask("/api/reducers", {"name": "slipway thinner", "solvents": shares})
        running.ask("/api/batches", {"name": "cup of the evening"})
        running.ask("/api/batches/additions", {"paint": "ice-van white", "drops": 40})
        running.ask("/api/batches/thinning", {"reducer": "slipway thinner", "ml": 2})
        running.ask("/api/cautions/read", {"person": "A. Volunteer"})
        coat = running.ask("/api/coats", {"piece": PIECE, "kind": "tack coat"})
        running.ask(f"/api/coats/{coat['id']}/end", {})
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


def go(page, bench: PageBench, place: str) -> None:
    page.goto(f"{bench.address}#{place}")
    page.wait_for_function("document.getElementById('connection').textContent === 'Live'")
    page.locator(f"[data-place='{place.partition('/')[0]}']").wait_for(state="visible")
    page.wait_for_function("document.body.dataset.ready === 'all'")


def idle(page) -> None:
    """Until every act is answered and the bench was looked at again."""
    page.wait_for_function("document.querySelector('.busy') === null")


def press(page, name: str, within: str = "body", **options: object) -> None:
    page.locator(within).get_by_role("button", name=name, exact=True).first.click(**options)


# --- one record per act ---------------------------------------------------------------------


def test_a_double_tap_on_start_coat_starts_one_and_does_not_end_it(page, bench) -> None:
    go(page, bench, "booth")
    before = len(bench.ask("/api/coats"))
    page.get_by_label("Piece", exact=True).fill(PIECE)
    page.get_by_role("button", name="Start coat", exact=True).dblclick(delay=120)
    page.locator("#coat-end").wait_for()
    idle(page)
    assert bench.ask("/api/bench")["coat"]["end"] is None, "the second tap must not end it"
    page.get_by_role("button", name="End coat", exact=True).dblclick(delay=120)
    page.locator("#coat-form").wait_for()
    idle(page)
    assert len(bench.ask("/api/coats")) == before + 1
    assert bench.ask("/api/bench")["coat"] is None


def test_an_act_whose_answer_was_lost_is_one_record_when_tapped_again(page, bench) -> None:
    go(page, bench, "mixing")
    before = len(bench.ask("/api/targets"))
    lost: list[int] = []

    def lose_the_first_answer(route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    page.route("**/api/targets", lose_the_first_answer)
    page.get_by_text("New target").click()
    form = page.locator("#target-form")
    form.get_by_label("Name of the colour").fill("hull blue, second look")
    form.get_by_label("Type Lab").check()
    for name, value in (("l", "40"), ("a", "-2"), ("b", "-20")):
        form.locator(f"[name={name}]").fill(value)
    press(page, "Set the target", "#target-form")
    page.locator("#target-form .error.general", has_text="did not answer").wait_for()
    assert form.get_by_label("Name of the colour").input_value() == "hull blue, second look"
    idle(page)
    press(page, "Set the target", "#target-form")
    page.wait_for_function("document.querySelector('#target-form [name=name]').value === ''")
    assert lost == [200]
    assert len(bench.ask("/api/targets")) == before + 1


def test_two_tablets_that_measure_at_once_take_one_swatch(page, bench) -> None:
    other = page.context.browser.new_context(bypass_csp=True)
    other.set_default_timeout(WAIT_MS)
    tablets = [page, other.new_page()]
    before = len(bench.ask("/api/bench")["batch"]["swatches"])
    bench.world.fresh_cup()
    bench.world.add_drops("ice-van white", 40)
    bench.world.place("cup")
    for tablet in tablets:
        go(tablet, bench, "mixing")
        tablet.locator("#measure:not([disabled])").wait_for()
    with (
        tablets[0].expect_response("**/api/swatches") as one,
        tablets[1].expect_response("**/api/swatches") as two,
    ):
        for tablet in tablets:
            tablet.locator("#measure").click()
    assert one.value.json()["id"] == two.value.json()["id"]
    assert len(bench.ask("/api/bench")["batch"]["swatches"]) == before + 1
    other.close()

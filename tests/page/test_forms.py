"""The forms of Instruments and Mixing, each from empty to done and refused once."""

import re

import pytest

from sprayout.commands.benchmarks.page_bench import PageBench
from tests.page_screen import PAINTS, go, press, said, unfold

pytestmark = pytest.mark.needs("chromium")

PATCHES = ("rope", "brick", "lagoon")


@pytest.fixture
def bench(stocked: PageBench) -> PageBench:
    return stocked


def certificate_of(bench: PageBench, names: tuple[str, ...]) -> str:
    """The chart's certificate as a table to paste: wavelengths, then a patch a line."""
    known = {c.name: c for c in bench.world.chart_certificates}
    first = known[names[0]]
    lines = ["name\t" + "\t".join(f"{nm:g}" for nm in first.wavelength_nm)]
    lines += [f"{name}\t" + "\t".join(map(str, known[name].reflectance)) for name in names]
    return "\n".join(lines)


def test_the_chart_from_a_pasted_certificate_to_the_finished_calibration(page, bench) -> None:
    go(page, bench, "instruments")
    bench.world.place("light trap")
    press(page, "Measure dark", "#instruments-place")
    page.locator("#calibration-white[data-state=now]").wait_for()
    assert page.locator("#chart[open]").count() == 0
    # The sensor still stands on the light trap: refused, said beside the step.
    press(page, "Measure the white tile", "#instruments-place")
    said(page, "#calibration-white .error", "white tile:")
    bench.world.place("white tile")
    press(page, "Measure the white tile", "#instruments-place")
    # The patches follow the tile: their part unfolds by itself.
    page.locator("#chart[open]").wait_for()
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
    # Calibrated anew: the looks before it are seen again over all calibrations.
    bench.calibrate()
    said(page, "#check-summary", "Not measured since the calibration.")
    page.get_by_label("All calibrations").check()
    said(page, "#check-summary", "2 looks over all calibrations")
    assert page.locator("#check-table tbody tr").count() == 3
    assert page.locator("#check-chart .moved").count() == 1
    page.get_by_label("All calibrations").uncheck()
    said(page, "#check-summary", "Not measured since the calibration.")


def test_the_patches_of_a_common_chart_are_chosen_by_name(page, bench: PageBench) -> None:
    go(page, bench, "instruments")
    unfold(page, "Chart patches")
    unfold(page, "A common chart, by name")
    form = page.locator("#common-form")
    said(page, "#common-source", "published averages, not the certificate of one chart")
    names = [patch["name"] for patch in bench.ask("/api/charts")[0]["patches"]]
    form.get_by_label("Name of the patch").select_option(names[1])
    press(page, "Put it on the list", "#common-form")
    said(page, "#chart-now", f"NOW: {names[1]}")
    said(page, "#common-kept", f"On the list: {names[1]}.")
    bench.world.place("brick")
    press(page, "Measure this patch")
    said(page, "#chart-words", "1 of 1 patches measured")
    assert bench.ask("/api/bench")["calibration"]["patches"] == [names[1]]
    form.get_by_label("Name of the patch").select_option("")
    press(page, "Put it on the list", "#common-form")
    said(page, "#common-kept", "On the list: all 24 patches.")
    page.locator("#chart-words", has_text="of 24 patches measured").wait_for()
    unfold(page, "Type one patch")
    typed = page.locator("#patch-form")
    for label, value in (("Name of the patch", "slate"), ("L*", "50"), ("a*", "0"), ("b*", "0")):
        typed.get_by_label(label, exact=True).fill(value)
    press(page, "Put it on the list", "#patch-form")
    said(page, "#patch-form-name-error", "That makes 25 patches; 24 are the most.")


def place(page, bench: PageBench, surface: str, count: int) -> None:
    bench.world.place(surface)
    press(page, "Measure one placement")
    said(page, "#placed-words", f"{count} placement")


def test_placements_are_counted_the_one_apart_is_named_and_they_become_the_reading(
    page, bench: PageBench
) -> None:
    go(page, bench, "mixing")
    before = len(bench.ask("/api/bench")["batch"]["swatches"])
    unfold(page, "Several placements of one surface")
    said(page, "#placed-words", "No placement yet.")
    assert page.locator("#placed-use").is_disabled()
    place(page, bench, "cup", 1)
    place(page, bench, "brick", 2)
    said(page, "#measure-hint", "2 placements are waiting")
    press(page, "Forget the placements")
    said(page, "#placed-words", "No placement yet.")
    for count, surface in enumerate(("cup", "cup", "brick", "cup"), 1):
        place(page, bench, surface, count)
    row = page.locator("#placed-rows tr", has_text="Placement 3")
    row.get_by_text("lies apart: left out").wait_for()
    assert page.locator("#placed-rows td", has_text="lies apart").count() == 1
    page.locator("#placed-use").dblclick()
    said(page, "#placed-words", "No placement yet.")
    assert len(bench.ask("/api/bench")["batch"]["swatches"]) == before + 1


def test_a_base_is_measured_and_a_coat_wants_to_be_named(page, bench: PageBench) -> None:
    go(page, bench, "mixing")
    unfold(page, "Measure a dry card, a coat or the base")
    form = page.locator("#surface-form")
    form.get_by_label("What is under the sensor").select_option("coat")
    form.get_by_label("Note").fill("port side")
    press(page, "Measure it")
    said(page, "#surface-form-coat-error", "Choose the coat; spray and end one first")
    assert form.get_by_label("Note").input_value() == "port side"
    form.get_by_label("What is under the sensor").select_option("base")
    bench.world.place("piece")
    press(page, "Measure it")
    said(page, "#surface-words", "Measured: the base, before the first coat. ΔE")
    unfold(page, "What the next coats will look like")
    page.locator("#more-coats tbody tr", has_text="4 coats").wait_for()


@pytest.mark.parametrize(
    ("summary", "panel", "words"),
    [
        ("How the cup will look dry", "#more-dry", "ssum"),
        ("The match under lamps", "#more-lamps", "Filament lamp (A)"),
        ("Drift between cups", "#more-drift", "first cup"),
    ],
)
def test_a_folded_part_asks_when_it_is_unfolded(
    page, bench: PageBench, summary: str, panel: str, words: str
) -> None:
    go(page, bench, "mixing")
    unfold(page, summary, "#more")
    said(page, f"{panel} [role=status]", words)


def test_a_folded_part_says_what_is_missing(
    page,
    bench: PageBench,
) -> None:
    """A typed target has no spectrum: the lamps are refused in the bench's own words."""
    measured = bench.ask("/api/bench")["target"]["id"]
    bench.ask("/api/targets", {"name": "typed blue", "lab": [40, -2, -20]})
    try:
        go(page, bench, "mixing")
        unfold(page, "The match under lamps", "#more")
        said(page, "#more-lamps .error", "wanted a measured target")
    finally:
        bench.ask(f"/api/targets/{measured}/choose", {})


def test_what_a_coat_took_is_written_once_and_the_film_is_told(page, bench: PageBench) -> None:
    go(page, bench, "mixing")
    unfold(page, "What the next coats will look like")
    form = page.locator("#took-form")
    form.get_by_label("Sprayed, mL").fill("0,2")
    press(page, "Write it to the coat")
    said(page, "#took-form-coat-error", "Choose the coat; spray and end one first")
    bench.ask("/api/cautions/read", {"person": "A. Volunteer"})
    coat = bench.ask("/api/coats", {"piece": "clockwork pilot cutter", "kind": "tack coat"})
    bench.ask(f"/api/coats/{coat['id']}/end", {})
    form.get_by_text("clockwork pilot cutter: tack coat").wait_for(state="attached")
    form.get_by_label("Area of the piece").fill("120")
    assert form.get_by_label("Sprayed, mL").input_value() == "0,2"
    press(page, "Write it to the coat")
    said(page, "#took-answer", "Written.")
    assert bench.ask(f"/api/coats/{coat['id']}")["settings"]["sprayed_ml"] == 0.2


def test_how_much_to_mix_and_how_to_make_it_again(page, bench: PageBench) -> None:
    go(page, bench, "mixing")
    unfold(page, "How much to mix")
    form = page.locator("#amount-form")
    form.get_by_label("Area of the piece").fill("120")
    form.get_by_label("Number of coats").fill("three")
    press(page, "Work it out")
    said(page, "#amount-form-coats-error", "Type a number")
    said(page, "#amount-form-wet_um_per_coat-error", "Type a number")
    assert form.get_by_label("Number of coats").input_value() == "three"
    form.get_by_label("Number of coats").fill("3")
    form.get_by_label("Wet film").fill("25")
    press(page, "Work it out")
    said(page, "#amount-answer", "Mix 4.09 mL of paint, 82 drops.")
    said(page, "#amount-answer", "Assumed: 35% of the spray stays on the piece")
    unfold(page, "Make it again, mixing card")
    again = page.locator("#again-form")
    page.wait_for_function("document.querySelector('#again-form select').options.length > 0")
    press(page, "Work out the drops")
    said(page, "#again-form-paint_ml-error", "Type a number here.")
    again.get_by_label("Paint wanted").fill("3")
    press(page, "Work out the drops")
    said(page, "#again-answer", f"drops {PAINTS[0]}")
    again.get_by_label("Begin a cup of this name").fill("second cup")
    press(page, "Work out the drops")
    said(page, "#again-answer", "Begun: second cup.")
    said(page, "#cup-words", "second cup: 0 drops")
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Mixing card to print").click()
    opened.value.get_by_text("first cup").first.wait_for()


def test_an_efflux_time_outside_the_cups_range_is_refused_and_one_inside_kept(page, bench) -> None:
    go(page, bench, "mixing")
    unfold(page, "Efflux time of a viscosity cup")
    form = page.locator("#efflux-form")
    form.get_by_label("Viscosity cup").select_option("Zahn 2")
    form.get_by_label("Seconds").fill("5")
    form.get_by_label("Temperature of the paint").fill("25")
    press(page, "Write into the ledger", "#efflux-form")
    said(page, "#efflux-form .error.general", "Zahn 2: got 5 s, wanted")
    form.get_by_label("Seconds").fill("30")
    press(page, "Write into the ledger", "#efflux-form")
    said(page, "#efflux-answer", "Zahn 2: 30.0 s, which is")


def test_a_recipe_is_chosen_weighed_and_the_cup_aims_at_the_dry_colour(page, bench) -> None:
    go(page, bench, "mixing")
    unfold(page, "Recipes from an empty cup")
    said(page, "#more-recipe [role=status]", "should come to")
    page.get_by_role("button", name=re.compile("^Mix this one: Recommended")).click()
    said(page, "#cup-words", "by the recipe: recommended")
    assert bench.ask("/api/bench")["batch"]["recipe"]["kind"] == "recommended"
    press(page, "Back to free advice")
    page.locator("#recipe-free").wait_for(state="hidden")
    unfold(page, "How the cup will look dry")
    press(page, "Match the dry colour")
    said(page, "#aim-words", "right once dry")
    press(page, "Match as it reads, wet")
    said(page, "#aim-words", "as it reads, wet")


def test_drops_are_written_by_weight_once_the_density_is_known(page, bench: PageBench) -> None:
    go(page, bench, "mixing")
    unfold(page, "Write drops by hand")
    form = page.locator("#addition-form")
    form.get_by_label("Paint").fill(PAINTS[0])
    form.get_by_label("Drops").fill("2")
    form.get_by_label("or grams").fill("0,5")
    press(page, "Write into the ledger", "#addition-form")
    said(page, "#addition-form-grams-error", "one of the two")
    form.get_by_label("Drops").fill("")
    press(page, "Write into the ledger", "#addition-form")
    said(page, "#addition-form .error.general", "density")
    assert form.get_by_label("or grams").input_value() == "0,5"
    page.get_by_role("link", name="Shelf", exact=True).click()
    press(page, f"Correct: {PAINTS[0]}")
    paint = page.locator("#paint-form")
    paint.get_by_label("Density").fill("1,2")
    press(page, "Keep the correction")
    page.wait_for_function("document.querySelector('#paint-form [name=name]').value === ''")
    page.get_by_role("link", name="Mixing", exact=True).click()
    press(page, "Write into the ledger", "#addition-form")
    said(page, "#undo-words", f"Takes back: {PAINTS[0]}, 0.500 g")
    press(page, "Take back the last line")
    page.locator("#undo-words", has_text="0.500 g").wait_for(state="detached")

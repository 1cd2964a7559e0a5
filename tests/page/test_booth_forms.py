"""Booth, Coats, Looking back and Settings in headless Chromium: one record per act, every form with
what is wrong beside its field, what a person reads of air, coats and evenings."""

import time
from collections.abc import Iterator

import pytest

from sprayout.commands.benchmarks.page_bench import PageBench, page_bench
from tests.page_screen import FAST, WAIT_MS, go, press

pytestmark = pytest.mark.needs("chromium")

PIECE = "clockwork pilot cutter"


@pytest.fixture(scope="module")
def bench(tmp_path_factory) -> Iterator[PageBench]:
    """Calibrated, with a target, a thinned cup, the cautions read and one coat on record."""
    with page_bench(tmp_path_factory.mktemp("bench"), FAST, speed=5.0) as running:
        running.calibrate()
        running.set_target()
        white = {"name": "ice-van white", "family": "enamel", "white": True}
        running.ask("/api/paints", white)
        label = {"solvents": {"n-butyl acetate": 0.5}, "two_part": False, "solids_g_ml": 0.6}
        pigments = {"pigments": ["titanium dioxide"], "paint": "ice-van white"}
        running.ask("/api/paints/label", {**label, **pigments})
        shares = {"n-butyl acetate": 0.6, "toluene": 0.4}
        running.ask("/api/reducers", {"name": "slipway thinner", "solvents": shares})
        running.ask("/api/batches", {"name": "cup of the evening"})
        running.ask("/api/batches/additions", {"paint": "ice-van white", "drops": 40})
        running.ask("/api/batches/thinning", {"reducer": "slipway thinner", "ml": 2})
        running.ask("/api/cautions/read", {"person": "A. Volunteer"})
        coat = running.ask("/api/coats", {"piece": PIECE, "kind": "tack coat"})
        running.ask(f"/api/coats/{coat['id']}/end", {})
        yield running


def sprayed(bench: PageBench, piece: str, kind: str, settings: dict[str, object]) -> dict:
    """A coat that went on until the booth's air was read in it three times."""
    coat = bench.ask("/api/coats", {"piece": piece, "kind": kind, "settings": settings})
    read: set[str] = set()
    end_s = time.monotonic() + WAIT_MS / 1000
    while len(read) < 3 and time.monotonic() < end_s:
        air = bench.ask("/api/bench")["booth"]["air_c"]
        read |= {air["at"]} if air and air["at"] > coat["start"] else set()
        time.sleep(0.02)
    return bench.ask(f"/api/coats/{coat['id']}/end", {})


def idle(page) -> None:
    """Until every act is answered and the bench was looked at again."""
    page.wait_for_function("document.querySelector('.busy') === null")


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
    page.get_by_text("New target", exact=True).click()
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


# --- the booth's forms ----------------------------------------------------------------------


def test_how_a_coat_is_sprayed_is_put_on_record_and_remembered(page, bench) -> None:
    go(page, bench, "booth")
    form = page.locator("#coat-form")
    form.get_by_label("Piece", exact=True).fill("tin tram")
    form.locator("summary").click()
    form.get_by_label("Airbrush to piece, mm").fill("5")
    press(page, "Start coat")
    wrong = page.locator("#coat-form-distance_mm-error")
    assert wrong.inner_text() == "Type a number from 10 to 1000, or leave it empty."
    assert form.get_by_label("Airbrush to piece, mm").input_value() == "5", "kept as typed"
    form.get_by_label("Airbrush to piece, mm").fill("120")
    form.get_by_label("Air pressure").fill("20")
    form.get_by_label("Unit").select_option("psi")
    form.get_by_label("Paint for this coat, mL").fill("2.5")
    form.get_by_label("Area that gets it").fill("180")
    form.get_by_label("Sprayed over something").select_option("grey")
    press(page, "Start coat")
    page.locator("#coat-end").click()
    form.wait_for()
    idle(page)
    wanted = {"distance_mm": 120, "pressure_psi": 20, "sprayed_ml": 2.5, "area_cm2": 180}
    assert bench.ask("/api/coats")[0]["settings"] == {**wanted, "base_l": "grey"}
    page.reload()
    page.wait_for_function("document.getElementById('coat-brief').textContent.includes('20 psi')")
    assert "tin tram" in page.locator("#coat-kept").text_content()
    assert form.get_by_label("Airbrush to piece, mm").input_value() == "120"


def test_what_the_piece_is_made_of_counts_for_the_film(page, bench) -> None:
    go(page, bench, "booth")
    page.locator("#coat-form").get_by_label("Piece", exact=True).fill("lifeboat no. 7")
    page.locator("#piece-made-of summary").click()
    assert "coldest case" in page.locator("#piece-words").inner_text()
    form = page.locator("#piece-form")
    form.get_by_label("Metal").select_option("brass")
    press(page, "Put the piece on record")
    wrong = page.locator("#piece-form-metal_mm-error")
    assert wrong.inner_text() == "Type the thickness in mm, for example 0.3."
    form.get_by_label("Thickness").fill("0,4")
    press(page, "Put the piece on record")
    page.locator("#piece-words", has_text="lifeboat no. 7: brass, 0.4 mm.").wait_for()
    page.wait_for_function(
        "document.getElementById('film-assumed').textContent.includes('brass')", timeout=WAIT_MS
    )


def test_the_booth_is_entered_whole_and_what_is_wrong_stands_beside_its_field(page, bench) -> None:
    go(page, bench, "booth")
    page.get_by_text("Enter or correct the booth").click()
    form = page.locator("#booth-form")
    form.get_by_label("Name of the booth").fill("window booth")
    form.get_by_label("Air in the booth").fill("none")
    press(page, "Put the booth on record")
    wrong = page.locator("#booth-form-volume_m3-error")
    assert wrong.inner_text().startswith("Type a number greater than 0")
    fields = {"Width of the open": "0.8", "Height of the open": "0.6", "Air in the booth": "0.4"}
    for label, value in fields.items():
        form.get_by_label(label).fill(value)
    form.get_by_label("Where the air goes").select_option("ducted")
    form.get_by_label("Measured flow, m³/h").fill("700")
    press(page, "Put the booth on record")
    page.locator("#booth-now", has_text="window booth: 0.40 m³, 700 m³/h, ducted").wait_for()
    held = bench.ask("/api/bench")["ventilation"]["booth"]
    assert (held["width_m"], held["flow_m3h"]) == (0.8, 700)


def test_a_cartridge_shows_its_hours(page, bench) -> None:
    go(page, bench, "booth")
    page.get_by_text("Fit a new cartridge").click()
    form = page.locator("#cartridge-form")
    form.get_by_label("Name on the cartridge").fill("left pair")
    press(page, "Fit it")
    assert "A2P3" in page.locator("#cartridge-form-type-error").inner_text()
    form.get_by_label("Type, for example").fill("A2P3")
    press(page, "Fit it")
    page.locator("#cartridge-now", has_text="left pair, A2P3").wait_for()
    page.locator("#cartridge-log", has_text="0.0 h").wait_for()


# --- coats and looking back -----------------------------------------------------------------

PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c49444154789c63f8cfc0"
    "000003010100c9fe92ef0000000049454e44ae426082"
)


def test_a_finding_is_found_by_its_drawing_and_kept_with_its_photo(page, bench) -> None:
    coat = bench.ask("/api/coats")[-1]
    go(page, bench, f"coats/{coat['id']}")
    page.locator("#coats-one").get_by_role("link", name="Enter a finding on this coat").click()
    form = page.locator("#finding-form")
    page.wait_for_function(
        "(id) => document.querySelector('#finding-form [name=coat]').value === id", arg=coat["id"]
    )
    page.get_by_text("Look at the drawings").click()
    shown = page.locator("#defects-all li", has_text="orange peel")
    assert shown.locator("img").get_attribute("src").startswith("data:image/svg+xml")
    shown.get_by_role("button", name="This is what I see: orange peel").click()
    assert form.locator("[name=defect] option:checked").inner_text() == "orange peel"
    form.get_by_label("Where on the piece").fill("bow")
    form.get_by_label("Photo").set_input_files(
        {"name": "bow.png", "mimeType": "image/png", "buffer": PIXEL}
    )
    press(page, "Enter the finding")
    page.locator("#review h2", has_text="What lay behind it: orange peel").wait_for()
    card = page.locator("#findings li", has_text="orange peel, plain").first
    photo = card.get_by_role("img", name="Photo: orange peel")
    page.wait_for_function("(img) => img.naturalWidth === 1", arg=photo.element_handle())
    assert "bow" in card.inner_text()


def test_coats_are_narrowed_compared_and_read_with_their_strips(page, bench) -> None:
    for kind, distance in (("wet coat", 100), ("wet coat", 150)):
        coat = sprayed(bench, "tin van", kind, {"distance_mm": distance})
    bench.ask("/api/findings", {"piece": "tin van", "coat": coat["id"], "defect": "dust nibs"})
    go(page, bench, "coats")
    page.get_by_label("Find a piece").fill("tin van")
    page.locator("#coats-count", has_text="2 coats").wait_for()
    page.locator("#coats-only").select_option(label="with a finding")
    page.locator("#coats-count", has_text="1 coat").wait_for()
    assert "Finding: dust nibs" in page.locator("#coats-list").inner_text()
    page.locator("#coats-only").select_option(label="all coats")
    for tick in page.get_by_role("checkbox", name="Compare tin van").all():
        tick.check()
    press(page, "Compare the two")
    row = page.locator("#back-table tr", has_text="Airbrush to piece")
    row.wait_for()
    assert {"100 mm", "150 mm", "≠ differs"} <= set(row.locator("td, th").all_inner_texts())
    page.goto(f"{bench.address}#coats/{coat['id']}")
    page.locator("#coats-one figure", has_text="humidity").wait_for()
    with page.expect_popup() as opened:
        page.get_by_role("link", name="Report of the piece").click()
    opened.value.get_by_text("tin van").first.wait_for()
    answer = page.request.get(f"{bench.address}api/pieces/{coat['piece']}/report.pdf?paper=letter")
    assert answer.body().startswith(b"%PDF")


def test_the_calendar_of_evenings_says_each_margin_in_words_and_shape(page, bench) -> None:
    go(page, bench, "looking-back")
    cell = page.locator("#calendar td.evening").first
    cell.wait_for()
    margin_k = bench.ask("/api/review/over-time")["calendar"][-1]["worst_margin_k"]
    mark = "?" if margin_k is None else "■" if margin_k < 0 else "▲" if margin_k < 3 else "●"
    assert cell.locator(".margin").inner_text()[0] == mark
    spoken = cell.locator(".heard").inner_text()
    assert "coat" in spoken and ("margin not read" in spoken) == (margin_k is None)
    page.locator("#association-words", has_text="on record").wait_for()
    assert "evenings without a finding" in page.locator("#good-words").inner_text()


def test_an_unusual_figure_is_asked_about_and_kept_when_it_is_right(page, bench) -> None:
    go(page, bench, "booth")
    page.get_by_text("Enter or correct the booth").click()
    form = page.locator("#booth-form")
    form.get_by_label("Name of the booth").fill("barn booth")
    form.get_by_label("Air in the booth").fill("90000")
    press(page, "Put the booth on record")
    wrong = page.locator("#booth-form-volume_m3-error")
    wrong.wait_for()
    assert "?" in wrong.inner_text()
    assert form.get_by_label("Air in the booth").input_value() == "90000"
    form.get_by_label("90000 is right, keep it").check()
    press(page, "Put the booth on record")
    page.locator("#booth-now", has_text="barn booth: 90000.00 m³").wait_for()
    form.get_by_label("Air in the booth").fill("0.4")
    press(page, "Put the booth on record")
    page.locator("#booth-now", has_text="barn booth: 0.40 m³").wait_for()


def test_the_airbrush_the_part_and_its_temperature_go_with_the_coat(page, bench) -> None:
    go(page, bench, "booth")
    page.locator("#airbrush summary").click()
    form = page.locator("#airbrush-form")
    form.get_by_label("Name of the airbrush").fill("fine brush")
    form.get_by_label("Nozzle").fill("30")
    press(page, "Put the airbrush on record")
    wrong = page.locator("#airbrush-form-nozzle_mm-error")
    assert wrong.inner_text() == "Type a number from 0.05 to 3, or leave it empty."
    form.get_by_label("Nozzle").fill("0.3")
    press(page, "Put the airbrush on record")
    page.locator("#airbrush-words", has_text="nozzle 0.30 mm").wait_for()
    press(page, "It is cleaned now")
    page.locator("#airbrush-words", has_text="cleaned").wait_for()
    bench.ask("/api/pieces", {"piece": "paddle steamer"})
    page.reload()
    page.wait_for_function("document.body.dataset.ready === 'all'")
    coat = page.locator("#coat-form")
    coat.get_by_label("Piece", exact=True).fill("paddle steamer")
    page.locator("#piece-made-of summary").click()
    page.get_by_label("Name of the part").fill("hull")
    press(page, "Add the part")
    page.wait_for_function("document.querySelector('#coat-form [name=part]').value !== ''")
    idle(page)
    temperature = page.locator("#part-temperature-form")
    temperature.get_by_label("Measured by contact").fill("hot")
    press(page, "Enter it", "#part-temperature-form")
    assert "−20 °C" in page.locator("#part-temperature-form-part_c-error").inner_text()
    temperature.get_by_label("Measured by contact").fill("19,5")
    press(page, "Enter it", "#part-temperature-form")
    page.locator("#part-temperature-words", has_text="entered").wait_for()
    press(page, "Start coat")
    page.locator("#coat-end").click()
    coat.wait_for()
    idle(page)
    kept = bench.ask("/api/coats")[0]
    assert kept["part"] and kept["airbrush"] == bench.ask("/api/airbrushes")["in_hand"]["id"]


def test_the_assessment_shows_each_figure_and_an_old_finish_is_never_taken_lightly(page, bench):
    go(page, bench, "booth")
    form = page.locator("#air-form")
    form.get_by_label("Paint for each coat").fill("much")
    press(page, "Work it out")
    wrong = page.locator("#air-form-sprayed_ml-error")
    assert wrong.inner_text().startswith("Type the paint one coat takes")
    form.get_by_label("Paint for each coat").fill("3")
    form.get_by_label("Minutes a coat takes").fill("4")
    press(page, "Work it out")
    answer = page.locator("#air-answer")
    answer.get_by_text("Assumed: ").first.wait_for()
    answer.locator("li", has_text="Respirator").first.wait_for()
    page.get_by_text("Sanding an old finish").click()
    form.get_by_label("An old finish will be sanded").check()
    press(page, "Work it out")
    answer.locator("li", has_text="do not spray, get professional help").first.wait_for()
    assert answer.locator(".level.words").inner_text().startswith("■")
    text = answer.inner_text()
    assert "Whose word counts" in text and "ventilation" in text.lower()


def test_the_record_is_checked_and_taken_elsewhere_from_the_settings(page, bench) -> None:
    go(page, bench, "settings")
    page.locator("#store-words", has_text="It is being written to.").wait_for()
    press(page, "Check the record")
    page.locator("#store-checked", has_text="Nothing wrong was found").wait_for()
    page.locator("#export-form [name=format]").select_option("csv")
    page.locator("#export-form [name=kind]").select_option("piece")
    with page.expect_download() as started:
        page.get_by_role("link", name="Download").click()
    assert PIECE in started.value.path().read_text(encoding="utf-8")
    go(page, bench, "looking-back")
    page.get_by_text("Show the last hundred").click()
    page.locator("#flags-past-table").get_by_text("Raised").wait_for()

"""The forms of the Shelf, each from empty to done and refused once: paints, sheets, targets."""

import io
from collections.abc import Iterator

import pytest
from PIL import Image

from sprayout.commands.benchmarks.page_bench import PageBench
from tests.page_screen import PAINTS, go, press, said, unfold

pytestmark = pytest.mark.needs("chromium")


@pytest.fixture
def bench(stocked: PageBench) -> PageBench:
    return stocked


def test_a_paint_is_put_on_the_shelf_once_and_its_swatches_are_led_through(page, bench) -> None:
    go(page, bench, "shelf")
    unfold(page, "Put a paint on the shelf")
    form = page.locator("#paint-form")
    form.get_by_label("Name on the bottle").fill(PAINTS[1])
    press(page, "Put it on the shelf", "#paint-form")
    said(page, "#paint-form .error", "stands on the shelf")
    assert form.get_by_label("Name on the bottle").input_value() == PAINTS[1]
    said(page, "#guide-first", "The swatch that helps most now")
    card = page.locator("#paints > li", has=page.get_by_text(PAINTS[1], exact=True))
    card.locator("summary").click()
    card.get_by_text("✓ done:").first.wait_for()
    card.get_by_role("button", name=f"Set aside: {PAINTS[1]}, Swatch 2").click()
    card.get_by_text("set aside, does not count").wait_for()
    card.get_by_role("button", name=f"Count it again: {PAINTS[1]}, Swatch 2").click()
    card.get_by_text("set aside, does not count").wait_for(state="detached")
    for base in ("black", "white"):
        film = bench.world.shelf.drawdown({PAINTS[1]: 1}, over=base, film_um=12.0)
        bench.world.place(film)
        card.get_by_role("button", name=f"Measure over {base}").click()
        count = 3 if base == "black" else 4
        card.get_by_text(f"{count} swatches").wait_for()


def test_a_data_sheet_is_kept_and_a_wrong_one_refused_at_its_field(page, bench) -> None:
    go(page, bench, "shelf")
    press(page, f"Data sheet: {PAINTS[1]}")
    form = page.locator("#sheet-form")
    assert form.locator("[name=paint]").input_value() == PAINTS[1]
    form.get_by_label("Air at least").fill("30")
    form.get_by_label("Air at most").fill("15")
    press(page, "Keep the data sheet")
    said(page, "#sheet-form-dries_by-error", "Choose how it dries")
    form.get_by_label("How it dries").select_option("cure")
    press(page, "Keep the data sheet")
    said(page, "#sheet-form-air_min_c-error", "got 30, wanted below 15")
    form.get_by_label("Air at least").fill("15")
    form.get_by_label("Air at most").fill("30")
    form.get_by_label("Recoat from, h", exact=True).fill("6,5")
    press(page, "Keep the data sheet")
    said(page, "#sheet-answer", f"Kept: the data sheet of {PAINTS[1]}.")
    kept = next(p for p in bench.ask("/api/shelf")["paints"] if p["name"] == PAINTS[1])
    limits = kept["details"]["limits"]
    assert (limits["air_min_c"], limits["recoat_from_h"], limits["rh_max_pct"]) == (15, 6.5, None)


def test_a_typed_figure_goes_with_its_unit_when_the_unit_is_changed(page, bench) -> None:
    go(page, bench, "shelf")
    press(page, f"Data sheet: {PAINTS[0]}")
    form = page.locator("#sheet-form")
    form.get_by_label("How it dries").select_option("cure")
    form.get_by_label("Air at least").fill("20")
    form.locator("[name=surface_over_dew_k]").fill("3")
    page.get_by_role("link", name="Settings", exact=True).click()
    page.get_by_label("°F", exact=True).check()
    page.get_by_role("link", name="Shelf", exact=True).click()
    assert form.get_by_label("Air at least, °F").input_value() == "68"
    assert form.locator("[name=surface_over_dew_k]").input_value() == "5.4"
    press(page, "Keep the data sheet")
    said(page, "#sheet-answer", f"Kept: the data sheet of {PAINTS[0]}.")
    kept = next(p for p in bench.ask("/api/shelf")["paints"] if p["name"] == PAINTS[0])
    limits = kept["details"]["limits"]
    assert (limits["air_min_c"], limits["surface_over_dew_k"]) == (20, 3)
    page.get_by_role("link", name="Mixing", exact=True).click()
    thinner = page.locator("#thinning-form [name=ml]")
    page.evaluate("document.querySelectorAll('main details').forEach((d) => d.open = true)")
    thinner.fill("3")
    page.get_by_role("link", name="Settings", exact=True).click()
    page.get_by_label("fl oz", exact=True).check()
    page.get_by_role("link", name="Mixing", exact=True).click()
    said(page, "#thinning-unit", "fl oz")
    assert thinner.input_value() == "0.101442"


def test_a_label_is_kept_and_more_than_the_bottle_is_refused(page, bench: PageBench) -> None:
    go(page, bench, "shelf")
    press(page, f"Label: {PAINTS[1]}")
    form = page.locator("#label-form")
    form.get_by_label("Solvent").first.fill("n-butyl acetate")
    form.get_by_label("Share of the bottle").first.fill("110")
    press(page, "Keep the label")
    said(page, "#label-form-share-0-error", "add up to 110.0 %")
    form.get_by_label("Share of the bottle").first.fill("45")
    form.get_by_label("One part or two").select_option("no")
    form.get_by_label("Pigments").fill("phthalocyanine blue, carbon black")
    press(page, "Keep the label")
    said(page, "#label-answer", f"Kept: the label of {PAINTS[1]}.")
    kept = next(p for p in bench.ask("/api/shelf")["paints"] if p["name"] == PAINTS[1])
    assert kept["details"]["solvents"] == {"n-butyl acetate": 0.45}
    assert kept["details"]["two_part"] is False


def details(bench: PageBench, paint: str) -> dict[str, object]:
    return next(p for p in bench.ask("/api/shelf")["paints"] if p["name"] == paint)["details"]


def test_what_is_cleared_on_a_label_or_a_bottle_is_no_longer_on_record(page, bench) -> None:
    label = {"solvents": {"toluene": 0.4}, "two_part": False, "solids_g_ml": 0.6}
    limits = {"dust_limit_mg_m3": 3, "data_sheet_limits_ppm": {"toluene": 50}}
    bench.ask("/api/paints/label", {"paint": PAINTS[1], **label, **limits})
    bench.ask("/api/paints/label", {"paint": PAINTS[1], "label": "H226"})
    assert details(bench, PAINTS[1])["two_part"] is False, "what is not sent stays"
    bottle = {"name": PAINTS[1], "family": "enamel", "density_g_ml": 1.2, "price_per_ml": 0.3}
    bench.ask("/api/paints", bottle)
    go(page, bench, "shelf")
    press(page, f"Label: {PAINTS[1]}")
    form = page.locator("#label-form")
    form.get_by_label("One part or two").select_option("")
    for name in ("solids_g_ml", "dust_limit_mg_m3", "limit-0"):
        assert form.locator(f"[name={name}]").input_value() != ""
        form.locator(f"[name={name}]").fill("")
    press(page, "Keep the label")
    said(page, "#label-answer", f"Kept: the label of {PAINTS[1]}.")
    kept = details(bench, PAINTS[1])
    assert kept.keys().isdisjoint({"two_part", "solids_g_ml", *limits})
    assert (kept["solvents"], kept["density_g_ml"]) == ({"toluene": 0.4}, 1.2)
    press(page, f"Correct: {PAINTS[1]}")
    for name in ("density_g_ml", "price_per_ml"):
        page.locator(f"#paint-form [name={name}]").fill("")
    with page.expect_response("**/api/paints"):
        page.locator("#paint-form button").click()
    assert details(bench, PAINTS[1]).keys().isdisjoint({"density_g_ml", "price_per_ml"})


def test_targets_typed_for_a_white_point_stand_beside_each_other(page, bench: PageBench) -> None:
    measured = bench.ask("/api/bench")["target"]["id"]
    try:
        go(page, bench, "mixing")
        unfold(page, "New target")
        form = page.locator("#target-form")
        for name, lab in (("early hull blue", "40"), ("late hull blue", "44")):
            form.get_by_label("Name of the colour").fill(name)
            form.get_by_label("Type Lab").check()
            for field, value in (("l", lab), ("a", "-2"), ("b", "-20")):
                form.locator(f"[name={field}]").fill(value)
            form.get_by_label("Lab is for").select_option("d50-2")
            press(page, "Set the target", "#target-form")
            page.wait_for_function(
                "document.querySelector('#target-form [name=name]').value === ''"
            )
            unfold(page, "New target")
        page.get_by_role("link", name="Shelf", exact=True).click()
        for name in ("early hull blue", "late hull blue"):
            page.get_by_label(f"Show beside others: {name}").check()
        row = page.locator("#targets-beside tbody tr", has_text="late hull blue")
        row.get_by_text("3.6").wait_for()
    finally:
        bench.ask(f"/api/targets/{measured}/choose", {})


@pytest.fixture
def measured_target(bench: PageBench) -> Iterator[None]:
    """The measured target is taken in hand again, whatever a test sets."""
    measured = bench.ask("/api/bench")["target"]["id"]
    yield
    bench.ask(f"/api/targets/{measured}/choose", {})


def named(bench: PageBench, name: str) -> list[dict[str, object]]:
    return [target for target in bench.ask("/api/targets") if target["name"] == name]


def test_a_target_in_munsell_notation_and_its_shade_stand_side_by_side(
    page, bench: PageBench, measured_target
) -> None:
    go(page, bench, "shelf")
    unfold(page, "New target, typed")
    form = page.locator("#shelf-target-form")
    form.get_by_label("Name of the colour").fill("buoy red")
    form.get_by_label("Notation, such as").fill("5X 4/10")
    press(page, "Set the target", "#shelf-target-form")
    said(page, "#shelf-target-form-munsell-error", "munsell: got hue X")
    assert form.get_by_label("Notation, such as").input_value() == "5X 4/10"
    assert named(bench, "buoy red") == []
    form.get_by_label("Notation, such as").fill("5R 4/10")
    # By keyboard alone: Enter in the field is the button, once that is up again.
    page.locator("#shelf-target-form button:not(.busy)").wait_for()
    form.get_by_label("Notation, such as").press("Enter")
    said(page, "#shelf-target-answer", "Set and in hand: buoy red")
    said(page, "#shelf-target-answer", "Munsell")
    form.get_by_label("Name of the colour").fill("faded buoy red")
    form.get_by_label("Notation, such as").fill("5R 5/8")
    form.get_by_label("A shade of").fill("buoy red")
    form.get_by_role("button", name="Set the target").dblclick()
    said(page, "#shelf-target-answer", "Set and in hand: faded buoy red")
    row = page.locator("#shades tbody tr", has_text="faded buoy red")
    row.wait_for()
    assert page.locator("#shades tbody th").all_inner_texts() == ["buoy red", "faded buoy red"]
    assert page.locator("#shades .swatch").count() == 2
    (shade,) = named(bench, "faded buoy red")
    assert (shade["origin"], shade["variant_of"]) == ("munsell", "buoy red")


def test_a_typed_lab_wants_its_light_and_is_carried_over(page, bench, measured_target) -> None:
    go(page, bench, "shelf")
    unfold(page, "New target, typed")
    form = page.locator("#shelf-target-form")
    form.get_by_label("Name of the colour").fill("lamp-room green")
    form.get_by_label("Type Lab").check()
    for label, value in (("L*", "48,5"), ("a*", "-30"), ("b*", "18")):
        form.get_by_label(label, exact=True).fill(value)
    press(page, "Set the target", "#shelf-target-form")
    said(page, "#shelf-target-form-illuminant-error", "Choose it")
    said(page, "#shelf-target-form-observer-error", "Choose it")
    assert form.get_by_label("L*", exact=True).input_value() == "48,5"
    form.get_by_label("Lab is stated for the light").select_option("a")
    form.get_by_label("and the observer").select_option("2")
    press(page, "Set the target", "#shelf-target-form")
    said(page, "#shelf-target-answer", "Stated as L 48.5 a -30 b 18 for A/2")
    (target,) = named(bench, "lamp-room green")
    assert target["white"] == "d65-10" and target["u95_de00"] > 0
    card = page.locator("#targets > li", has=page.get_by_text("lamp-room green", exact=True))
    said(page, "#targets > li", f"± {target['u95_de00']:.1f} (95 in 100)")
    card.get_by_text("in hand").wait_for()


def photograph(patch: tuple[int, int, int], size: tuple[int, int] = (240, 160)) -> bytes:
    """A grey card with the colour on its left half."""
    image = Image.new("RGB", size, (150, 148, 140))
    image.paste(patch, (0, 0, size[0] // 2, size[1]))
    packed = io.BytesIO()
    image.save(packed, "PNG")
    return packed.getvalue()


def tap(page, picture: str, across: float, down: float) -> None:
    image = page.get_by_role("img", name=picture)
    box = image.bounding_box()
    image.click(position={"x": across * box["width"], "y": down * box["height"]})


def test_photographs_become_a_guide_by_taps_and_by_typed_numbers(
    page, bench: PageBench, measured_target
) -> None:
    go(page, bench, "shelf")
    unfold(page, "New guide, from photographs")
    form = page.locator("#photo-form")
    press(page, "Set the guide")
    said(page, "#photo-form-pictures-error", "Choose a picture.")
    form.get_by_label("Name of the colour").fill("deckhouse cream")
    pictures = form.get_by_label("Pictures, 8 at most")
    pictures.set_input_files({"name": "notes.txt", "mimeType": "text/plain", "buffer": b"cream"})
    said(page, "#photo-form-pictures-error", "notes.txt: wanted a JPEG")
    for name, colour in (("bow.png", (214, 190, 130)), ("stern.png", (255, 255, 120))):
        buffer = photograph(colour)
        pictures.set_input_files({"name": name, "mimeType": "image/png", "buffer": buffer})
        page.get_by_role("img", name=f"Photograph {name}, 240 × 160 pixels").wait_for()
    tap(page, "Photograph bow.png", 0.4, 0.7)
    form.get_by_text("Now the opposite corner.").wait_for()
    tap(page, "Photograph bow.png", 0.1, 0.2)
    form.get_by_text("Marked: the colour").wait_for()
    bow = form.get_by_role("group", name="The colour in bow.png, pixels")
    width = int(bow.get_by_label("Width").input_value())
    assert 68 <= width <= 77, "three tenths of 240 pixels, within a screen pixel at each end"
    form.get_by_label("a white or grey thing").first.check()
    tap(page, "Photograph bow.png", 0.6, 0.2)
    tap(page, "Photograph bow.png", 0.9, 0.8)
    form.get_by_text("Marked: a white or grey thing").wait_for()
    press(page, "Set the guide")
    said(page, "#photo-form-patch-1-0-error", "Whole numbers, inside 240 × 160")
    stern = form.get_by_role("group", name="The colour in stern.png, pixels")
    for label, value in (("Left", "10"), ("Top", "10"), ("Width", "80"), ("Height", "90")):
        stern.get_by_label(label).fill(value)
    press(page, "Set the guide")
    # Refused by the bench, said at the picture it names; what was marked stays.
    said(page, "#photo-form-patch-1-0-error", "stern.png: 100 % of the patch is burnt out")
    assert int(bow.get_by_label("Width").input_value()) == width
    assert named(bench, "deckhouse cream") == []
    press(page, "Leave out stern.png")
    form.get_by_role("button", name="Set the guide").dblclick()
    said(page, "#photo-answer", "a guide, from photographs, ±")
    (target,) = named(bench, "deckhouse cream")
    assert target["origin"] == "photographs" and len(target["photos"]) == 1
    assert target["u95_de00"] >= 5
    said(page, "#photo-answer", f"± {target['u95_de00']:.1f} (95 in 100)")
    assert page.locator("#photo-pictures img").count() == 0

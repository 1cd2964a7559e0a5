"""Cups, amounts, shifts, the ledger and the card."""

import csv
from pathlib import Path

import numpy as np
import pytest

from sprayout.colour.difference import ciede2000
from sprayout.colour.tables import colour_samples, published_chart
from sprayout.colour.tristimulus import Spectrum, grid_to_lab
from sprayout.errors import BadInput
from sprayout.mixing.amount import how_much
from sprayout.mixing.card import CAUTION, card_html, card_text
from sprayout.mixing.film_build import film_build
from sprayout.mixing.ledger import Addition, Batch, LabReading, Reducing, Sprayed, drift, make_again
from sprayout.mixing.shifts import Pair, shift_of, shifted, step_of, target_before
from sprayout.mixing.surface_colours import is_surface_colour
from sprayout.mixing.values import Paint, Shelf, Swatch, Target
from sprayout.mixing.viscosity import cup_named, cups, efflux, kinematic_mm2_s
from sprayout.mixing.weighing import weighed

CHECKS = Path(__file__).parent / "tables" / "viscosity_cups_checks.csv"
NM = tuple(float(v) for v in range(400, 701, 20))


def checks() -> list[dict[str, str]]:
    lines = [x for x in CHECKS.read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", checks(), ids=lambda r: f"{r['family']} {r['cup']} {r['t_s']} s")
def test_published_cup_values(row: dict[str, str]):
    cup = cup_named(f"{row['family']} {row['cup']}")
    nu = kinematic_mm2_s(cup, float(row["t_s"]))
    assert nu == pytest.approx(float(row["nu_formula"]), abs=0.02)
    assert nu == pytest.approx(float(row["nu_published"]), rel=0.036)


@pytest.mark.parametrize("cup", cups(), ids=lambda c: c.name)
def test_every_cup_rises_with_time_and_refuses_outside(cup):
    assert kinematic_mm2_s(cup, cup.t_max_s) > kinematic_mm2_s(cup, cup.t_min_s) > 0
    for seconds in (cup.t_min_s - 0.1, cup.t_max_s + 0.1, float("nan")):
        with pytest.raises(BadInput, match="wanted"):
            kinematic_mm2_s(cup, seconds)


def test_a_cup_away_from_its_temperature_is_marked():
    assert efflux("zahn  2", 33, 25.0).note == ""
    assert "same temperature" in efflux("Zahn 2", 33, 15.0).note
    with pytest.raises(BadInput, match="name one of"):
        efflux("Zahn 9", 33, 25.0)


def test_how_much_is_area_times_film_and_what_is_lost():
    """100 cm2 of 25 um wet film in 4 coats is 1 mL: by definition of the units."""
    amount = how_much(100, 4, 25, transfer=1.0, left_behind_ml=0.0, spare=0.0)
    assert amount.thinned_ml == pytest.approx(1.0)
    assert amount.assumed == ()
    real = how_much(100, 4, 25, reducer_parts=1.0)
    assert real.thinned_ml == pytest.approx(1.0 / 0.35 * 1.2 + 1.0)
    assert real.paint_ml == pytest.approx(real.reducer_ml)
    assert real.drops * 0.05 >= real.paint_ml
    assert len(real.assumed) == 3
    with pytest.raises(BadInput, match="area"):
        how_much(-1, 4, 25)


def test_film_build_is_the_way_back_and_cautions():
    film = film_build(1.0, 100, 4, transfer=1.0, solids_by_volume=0.25)
    assert film.wet_um_per_coat == pytest.approx(25.0)
    assert film.dry_um_total == pytest.approx(25.0)
    assert film.caution == ""
    assert "softens" in film_build(1.0, 100, 4, transfer=1.0, dry_um_before=50).caution
    with pytest.raises(BadInput, match="above 0"):
        film_build(0, 100, 4)


def flat(level: float) -> Spectrum:
    return Spectrum(NM, (level,) * len(NM))


def test_a_shift_is_an_assumption_until_a_pair_is_measured():
    assumed = shift_of("wet to dry", "acrylic")
    assert assumed.assumed
    assert "an assumption" in assumed.words()
    pair = Pair(flat(0.30), shifted(flat(0.30), 0.25))
    learned = shift_of("wet to dry", "acrylic", (pair,) * 3)
    assert not learned.assumed
    assert step_of(pair) == pytest.approx(0.25, abs=1e-6)
    assert assumed.step < learned.step < 0.25
    assert learned.sd < assumed.sd


def test_acrylics_move_more_than_enamels_from_wet_to_dry():
    """Common practice, no source."""
    assert shift_of("wet to dry", "acrylic").step > shift_of("wet to dry", "enamel").step
    assert shift_of("reduced to unreduced", "enamel").step < 0


def test_the_target_before_a_shift_lands_on_the_target_after_it():
    shift = shift_of("wet to dry", "acrylic")
    target = Target(Spectrum(NM, tuple(np.linspace(0.1, 0.6, len(NM)))))
    wet = target_before(target, shift)
    back = shifted(wet.spectrum, shift.step)
    np.testing.assert_allclose(back.reflectance, target.spectrum.reflectance, atol=1e-9)
    lighter = target_before(Target(None, (50.0, 10.0, 10.0)), shift)
    assert lighter.lab_d65_10[0] > 50.5
    with pytest.raises(BadInput, match="shift"):
        shift_of("wet to dry", "gouache")  # type: ignore[arg-type]


def batch() -> Batch:
    made = Batch("pilot cutter hull blue", (35.0, -5.0, -30.0))
    made = made.enter(Addition("ice-van white", 12)).enter(Addition("hull blue <deep>", 7))
    made = made.enter(Addition("ice-van white", 3)).enter(LabReading((35.2, -5.1, -29.6), "wet"))
    return made.enter(Reducing("enamel reducer", 0.5)).enter(efflux("Zahn 2", 22, 22.0))


def test_the_ledger_adds_up():
    made = batch()
    assert made.drops == {"ice-van white": 15, "hull blue <deep>": 7}
    assert made.paint_ml == pytest.approx(1.1)
    assert made.volume_left_ml == pytest.approx(1.6)
    sprayed = made.enter(Sprayed("tack coat", 0.6))
    assert sprayed.volume_left_ml == pytest.approx(1.0)
    with pytest.raises(BadInput, match="left in the cup"):
        sprayed.enter(Sprayed("wet coat", 1.2))
    assert sprayed.volume_left_ml == pytest.approx(1.0)
    with pytest.raises(BadInput, match="1 drop or more"):
        Addition("ice-van white", 0)


@pytest.mark.parametrize("paint_ml", [0.6, 1.1, 3.0, 17.0])
def test_make_it_again_keeps_the_shares(paint_ml: float):
    again = make_again(batch(), paint_ml)
    drops = dict(again.drops)
    assert again.paint_ml >= paint_ml - 0.05
    assert again.paint_ml == pytest.approx(0.05 * sum(drops.values()))
    share = drops["hull blue <deep>"] / sum(drops.values())
    assert share == pytest.approx(7 / 22, rel=0.01 + again.worst_share_error_pct / 100)
    assert again.reducer_ml / again.paint_ml == pytest.approx(0.5 / 1.1)


def test_drift_compares_with_the_first_batch():
    first, second = batch(), Batch("again", (35.0, -5.0, -30.0))
    second = second.enter(LabReading((36.0, -5.0, -30.0)))
    points = drift((first, Batch("unread"), second))
    assert [point.batch for point in points] == ["pilot cutter hull blue", "again"]
    assert points[0].from_first_de00 == 0
    expected = ciede2000(np.array([35.2, -5.1, -29.6]), np.array([36.0, -5.0, -30.0]))
    assert points[1].from_first_de00 == pytest.approx(float(expected))
    with pytest.raises(BadInput, match="none of the batches"):
        drift((Batch("unread"),))


def test_the_card_holds_the_batch_and_the_caution():
    text, html = card_text(batch()), card_html(batch())
    for wanted in ("15 drops (68.2 %)", "enamel reducer", "Zahn 2", "left in the cup", CAUTION):
        assert wanted in text
    assert "hull blue &lt;deep&gt;" in html
    assert "<deep>" not in html
    assert card_text(Batch("empty")).startswith("empty")


def test_grams_follow_drops_and_density():
    seen = flat(0.4)
    paints = (
        Paint("ice-van white", (Swatch((("ice-van white", 1.0),), seen),), density_g_ml=1.4),
        Paint("hull blue", (Swatch((("hull blue", 1.0),), seen),), drop_ml=0.04),
    )
    shelf = Shelf(paints)
    grams = weighed((("ice-van white", 10), ("hull blue", 5)), shelf, 9.0)
    assert dict(grams.grams) == {"ice-van white": 7.0, "hull blue": 2.0}
    assert grams.worst_share_error_pct == pytest.approx(0, abs=1e-9)
    coarse = weighed((("ice-van white", 10), ("hull blue", 5)), shelf, 9.0, 0.8)
    assert coarse.worst_share_error_pct > 5
    with pytest.raises(BadInput, match="finer scale"):
        weighed((("hull blue", 5),), shelf, 0.05)
    with pytest.raises(BadInput, match="not on the shelf"):
        weighed((("chalk", 5),), shelf, 9.0)


def test_every_real_surface_is_a_surface_colour():
    """CIE 224:2017 samples, and 300 made-up reflectances with sharp steps."""
    rng = np.random.default_rng(2)
    steps = np.repeat(rng.integers(0, 2, (300, 27)), 3, axis=1).astype(float)
    for spectrum in [*colour_samples().values.T, *steps]:
        assert is_surface_colour(tuple(grid_to_lab(spectrum)))


def test_under_the_other_white_too():
    """24 patches of ISO 17321-1 under D50/2°; and what no surface shows there either."""
    for spectrum in published_chart().values.T:
        assert is_surface_colour(tuple(grid_to_lab(spectrum, "d50-2")), "d50-2")
    assert not is_surface_colour((98.0, -60.0, 90.0), "d50-2")
    assert not is_surface_colour((99.0, 40.0, 0.0), "d50-2")


@pytest.mark.parametrize(
    "lab", [(99.0, 40.0, 0.0), (50.0, 0.0, -110.0), (5.0, 60.0, 0.0), (101.0, 0.0, 0.0)]
)
def test_colours_no_surface_has(lab: tuple[float, float, float]):
    assert not is_surface_colour(lab)

"""Targets, placements, surface warnings and metamerism."""

import warnings
from typing import Any

import numpy as np
import pytest

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import lab_to_xyz, xyz_to_lab
from sprayout.colour.metamerism import metamerism
from sprayout.colour.placements import combine_placements
from sprayout.colour.profile import ColourEstimate
from sprayout.colour.surface import EDGE, FLAKE, FLUORESCENCE, GLOSS, placement_warnings
from sprayout.colour.tables import GRID_NM, published_chart
from sprayout.colour.targets import (
    PhotoLook,
    averaged_target,
    photo_target,
    typed_target,
    variants,
)
from sprayout.colour.tristimulus import (
    Spectrum,
    grid_to_lab,
    spectrum_to_xyz,
    weights,
    white_point,
)
from sprayout.errors import BadInput

Lab = tuple[float, float, float]


def at(lab: Lab, clipped: bool = False, warned: tuple[str, ...] = ()) -> ColourEstimate:
    return ColourEstimate((0.3,) * 31, lab, lab, 0.5, clipped, warned, 0.1)


def scattered(sd: tuple[float, float, float], count: int = 6, seed: int = 4) -> list[Lab]:
    rng = np.random.default_rng(seed)
    rows = np.array([50.0, 30.0, 20.0]) + np.array(sd) * rng.standard_normal((count, 3))
    return [(float(r[0]), float(r[1]), float(r[2])) for r in rows]


def test_placements_average_and_name_the_outlier() -> None:
    labs = scattered((0.1, 0.1, 0.1), 5)
    found = combine_placements([at(lab) for lab in [*labs, (58.0, 10.0, 5.0)]], list("abcdef"))
    assert found.outliers == ("f",)
    assert found.n_used == 5
    np.testing.assert_allclose(found.lab_d65_10, np.mean(labs, axis=0))
    assert found.spread_de00 < 0.3


def test_spread_widens_u95_and_more_placements_narrow_it() -> None:
    quiet = combine_placements([at(lab) for lab in scattered((0.02, 0.02, 0.02))])
    loud = combine_placements([at(lab) for lab in scattered((0.4, 0.4, 0.4))])
    more = combine_placements([at(lab) for lab in scattered((0.4, 0.4, 0.4), 24)])
    assert quiet.u95_de00 <= more.u95_de00 < loud.u95_de00
    assert loud.u95_de00 > 0.6


def test_u95_of_placements_holds_the_true_mean_95_times_in_100() -> None:
    """Unit exact, surface scatter 0.5 in each of L, a, b: 600 rounds of 4 placements."""
    held = 0
    for seed in range(600):
        labs = scattered((0.5, 0.5, 0.5), 4, seed)
        exact = [ColourEstimate((0.3,) * 31, lab, lab, 0.01, False, (), 0.001) for lab in labs]
        found = combine_placements(exact)
        held += float(ciede2000((50.0, 30.0, 20.0), found.lab_d65_10)) <= found.u95_de00
    assert 0.92 <= held / 600 <= 0.985


def test_clipped_or_missing_placements_are_refused() -> None:
    with pytest.raises(BadInput, match="placement 2: a channel is clipped"):
        combine_placements([at((50, 0, 0)), at((50, 0, 0), clipped=True)])
    with pytest.raises(BadInput, match="got 0 readings"):
        combine_placements([])


def test_warnings_of_single_readings_are_kept() -> None:
    found = combine_placements([at((50, 0, 0), warned=(FLUORESCENCE,)), at((50, 0, 0))])
    assert found.warnings == (FLUORESCENCE,)


def shaded(shares: list[float]) -> Any:
    white = white_point("d65", 10)
    xyz = lab_to_xyz((50.0, 30.0, 20.0), white)
    return xyz_to_lab(np.array(shares)[:, None] * xyz, white)


@pytest.mark.parametrize(
    ("labs", "noise", "said"),
    [
        (np.array(scattered((0.1, 0.1, 0.1))), 0.1, ()),
        (np.array([[50, 30, 20], [51.5, 30, 20], [49, 30.05, 20], [50.7, 30, 20]]), 0.1,
         (GLOSS,)),
        (np.array(scattered((3.0, 2.0, 2.0))), 0.1, (FLAKE,)),
        (shaded([1.0, 1.0, 0.93, 0.9, 1.0]), 0.1, (EDGE,)),
        (np.array([[50.0, 30, 20]]), 0.1, ()),
    ],
)  # fmt: skip
def test_what_placements_say_of_a_surface(labs: Any, noise: float, said: tuple[str, ...]) -> None:
    assert placement_warnings(labs, noise) == said


def test_a_worn_original_is_said_to_be_one() -> None:
    target = averaged_target("hull", [at(lab) for lab in scattered((2.0, 1.0, 1.0))])
    assert target.origin == "measured"
    assert any("worn or faded" in note for note in target.notes)
    assert target.u95_de00 > 1.0


@pytest.mark.parametrize(
    ("illuminant", "observer"), [("d65", 10), ("d50", 2), ("d65", 2), ("a", 10)]
)
def test_typed_lab_of_any_light_lands_within_its_u95(illuminant: Any, observer: int) -> None:
    """The 24 published chart patches: typed under one light, known under the others."""
    held = []
    for spectrum in published_chart().values.T:
        white = white_point(illuminant, observer)
        lab = xyz_to_lab(spectrum_to_xyz(spectrum, illuminant, observer), white)
        target = typed_target(
            "x", (float(lab[0]), float(lab[1]), float(lab[2])), illuminant, observer
        )
        for name, found in (("d65-10", target.lab_d65_10), ("d50-2", target.lab_d50_2)):
            away = float(ciede2000(grid_to_lab(spectrum, name), found))
            held.append(away <= target.other_u95_de00 + 1e-6)
    assert np.mean(held) >= 0.9


@pytest.mark.parametrize(
    ("lab", "illuminant", "observer", "match"),
    [
        ((50, 200, 0), "D65", 10, "got L 50, a 200"),
        ((50, 0, 0), "D75", 10, "got illuminant D75"),
        ((50, 0, 0), "D65", 4, "observer 4"),
    ],
)
def test_typed_targets_that_cannot_be(lab: Lab, illuminant: str, observer: int, match: str) -> None:
    with pytest.raises(BadInput, match=match):
        typed_target("hull", lab, illuminant, observer)


def test_photographs_are_balanced_and_only_a_guide() -> None:
    """One colour seen through three tinted, dim pictures, each with a white card of L 95."""
    white = white_point("d50", 2)
    true = lab_to_xyz((45.0, 35.0, 25.0), white)
    card = lab_to_xyz((95.0, 0.0, 0.0), white)
    looks = []
    for name, tint in (("a", (0.8, 0.75, 0.6)), ("b", (0.7, 0.72, 0.75)), ("c", (0.9, 0.85, 0.7))):
        seen, ground = xyz_to_lab(true * tint, white), xyz_to_lab(card * tint, white)
        looks.append(PhotoLook(name, tuple(seen), tuple(ground), 95.0))  # type: ignore[arg-type]
    target = photo_target("hull", looks)
    assert float(ciede2000(target.lab_d50_2, (45.0, 35.0, 25.0))) < 4.0
    assert target.u95_de00 >= 5.0
    assert "a guide" in target.notes[0]
    plain = photo_target("hull", [PhotoLook("a", (45.0, 35.0, 25.0))])
    assert plain.u95_de00 > target.u95_de00
    assert "no neutral" in plain.notes[-1]


def test_an_odd_photograph_is_named_and_left_out() -> None:
    looks = [PhotoLook(n, (45.0 + i, 35.0, 25.0)) for i, n in enumerate("abc")]
    target = photo_target("hull", [*looks, PhotoLook("copy", (20.0, -10.0, -30.0))])
    assert "left out, unlike the others: copy" in target.notes


def test_a_burnt_out_neutral_is_refused() -> None:
    with pytest.raises(BadInput, match="neither burnt out nor in deep shade"):
        photo_target("hull", [PhotoLook("a", (45.0, 35.0, 25.0), (100.0, 0.0, 0.0))])


def test_variants_stand_side_by_side() -> None:
    early = typed_target("early", (45, 30, 20), "D65", 10)
    late = typed_target("late", (55, 30, 20), "D65", 10)
    both = variants("goods van", [early, late])
    assert [t.name for t, _ in both.nearest((54.0, 30.0, 20.0))] == ["late", "early"]
    with pytest.raises(BadInput, match="early stands twice"):
        variants("goods van", [early, early])


def spectrum(values: Any) -> Spectrum:
    return Spectrum(tuple(GRID_NM.tolist()), tuple(np.asarray(values).tolist()))


def test_equal_spectra_hold_under_every_lamp() -> None:
    grey = spectrum(published_chart().column("neutral_5"))
    found = metamerism(grey, grey)
    assert found.daylight_de00 == pytest.approx(0.0, abs=1e-9)
    assert found.words == "the match holds under lamp light"


def test_lamp_differences_agree_with_colour_science() -> None:
    """CIEDE2000 under A/10 of two chart patches by colour-science's own 5 nm sum; 0.02."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    names = "CIE 1964 10 Degree Standard Observer"
    shape = colour.SpectralShape(380, 780, 5)
    cmf = colour.MSDS_CMFS[names].copy().align(shape)
    light = colour.SDS_ILLUMINANTS["A"].copy().align(shape)
    pair = [published_chart().column(name) for name in ("purple", "blue_flower")]
    labs = []
    for values in [*pair]:
        sd = colour.SpectralDistribution(values, GRID_NM)
        xyz = colour.sd_to_XYZ(sd, cmf, light, method="Integration") / 100
        labs.append(colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS[names]["A"]))
    found = metamerism(spectrum(pair[0]), spectrum(pair[1]))
    assert found.lamps[0].de00 == pytest.approx(
        float(colour.delta_E(*labs, method="CIE 2000")), abs=0.02
    )


def test_a_metameric_pair_is_told() -> None:
    """A grey and the same grey with a ripple that daylight does not see."""
    weight = weights("d65", 10)
    ripple = 0.25 * np.sin((GRID_NM - 400.0) / 25.0)
    blind = ripple - weight @ np.linalg.lstsq(weight, ripple, rcond=None)[0]
    found = metamerism(spectrum(np.full(81, 0.5)), spectrum(0.5 + blind))
    assert found.daylight_de00 < 0.01
    assert max(lamp.index_de00 for lamp in found.lamps) > 1.0
    assert "the sample turns: too" in found.words

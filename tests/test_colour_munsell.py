"""Munsell notation: the renotation's table as we carry it, our whites, and what is refused."""

import importlib.util
import sys

import numpy as np
import pytest

from sprayout.acts.munsell_table import munsell_xyy
from sprayout.colour.lab import adapt, lab_to_xyz, xyz_to_lab
from sprayout.colour.munsell import NOTE, munsell_target, parse_munsell
from sprayout.colour.tristimulus import white_point
from sprayout.errors import BadInput

needs_table = pytest.mark.skipif(
    importlib.util.find_spec("colour") is None, reason="colour-science is not installed"
)

# Copied from MUNSELL_COLOURS["Munsell Colours Real"] of colour-science, the library that we ask for
# them: they check how we ask and carry its answer over, not the table itself.  The library names
# the Munsell Color Science Laboratory's file as its source; the renotation of Newhall, Nickerson
# and Judd (1943) behind that was not looked up.  Illuminant C, 2 degrees; Y on the scale where
# magnesium oxide is 100.
RENOTATION = [
    ("5R 5/10", 0.4747, 0.3227, 19.77),
    ("2.5PB 3/6", 0.2022, 0.2101, 6.555),
]
#: Y over magnesium oxide / Y over the perfect diffuser, ASTM D1535.
MAGNESIUM_OXIDE = 1.0257


@needs_table
@pytest.mark.parametrize(("notation", "x", "y", "luminance"), RENOTATION)
def test_two_rows_come_through_as_the_library_keeps_them(notation, x, y, luminance):
    found = munsell_xyy(parse_munsell(notation))
    assert found[:2] == pytest.approx((x, y), abs=1e-4)
    assert 100 * found[2] == pytest.approx(luminance / MAGNESIUM_OXIDE, rel=2e-3)


@needs_table
def test_the_librarys_table_is_carried_over_unchanged():
    """A sample through the whole table, a row in 97."""
    import colour

    table = colour.MUNSELL_COLOURS["Munsell Colours Real"]
    inside = [row for row in table if 1 <= row[0][1] <= 9 and row[0][2] >= 2][::97]
    assert len(inside) > 20
    for (hue, value, chroma), (x, y, luminance) in inside:
        found = munsell_xyy(parse_munsell(f"{hue} {value:g}/{chroma:g}"))
        assert found[:2] == pytest.approx((x, y), abs=1e-4), (hue, value, chroma)
        assert 100 * found[2] == pytest.approx(luminance / MAGNESIUM_OXIDE, rel=3e-3)


def test_illuminant_c_is_where_the_cie_puts_it():
    # CIE 15:2018, table of white points: illuminant C, 2 degrees, x 0.31006, y 0.31616.
    white = white_point("c", 2)
    assert white[:2] / white.sum() == pytest.approx((0.31006, 0.31616), abs=2e-5)


def test_a_colour_of_the_table_is_carried_over_to_our_whites():
    target = munsell_target(
        "smokebox red oxide", parse_munsell("5R 5/10"), (0.4747, 0.3227, 0.1927)
    )
    assert target.notes == (NOTE,)
    assert 0.5 < target.u95_de00 < 5.0
    # Near what a plain adaptation of the white gives (Bradford), which knows no observer.
    stated = 100 * 0.1927 * np.array([0.4747 / 0.3227, 1.0, (1 - 0.4747 - 0.3227) / 0.3227])
    c, d50 = white_point("c", 2), white_point("d50", 2)
    assert target.lab_d50_2 == pytest.approx(xyz_to_lab(adapt(stated, c, d50), d50), abs=4.0)
    assert target.lab_d65_10 != target.lab_d50_2


def test_a_grey_is_grey_under_every_white():
    target = munsell_target("primer", parse_munsell("N 5/"), (0.31006, 0.31616, 0.1927))
    assert target.lab_d65_10 == target.lab_d50_2
    assert target.lab_d65_10[1:] == (0.0, 0.0)
    assert lab_to_xyz(target.lab_d65_10, white_point("d65", 10))[1] == pytest.approx(
        19.27, abs=0.01
    )


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("5R 4/10", "5R 4/10"),
        ("2.5 pb 3 / 6", "2.5PB 3/6"),
        ("10yr8.5/12", "10YR 8.5/12"),
        ("N 5", "N 5/"),
        ("n5.5/", "N 5.5/"),
    ],
)
def test_a_notation_is_read_as_people_write_it(typed, said):
    assert str(parse_munsell(typed)) == said


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "wanted hue value/chroma such as 5R 4/10"),
        ("red", "wanted hue value/chroma"),
        ("5R", "got '5R'"),
        ("11R 5/4", "got hue step 11"),
        ("5Q 5/4", "got hue Q"),
        ("5R 0.5/2", "got value 0.5"),
        ("N 9.5", "got value 9.5"),
    ],
)
def test_a_bad_notation_is_refused_by_name(typed, words):
    with pytest.raises(BadInput, match=r"^munsell: ") as refused:
        parse_munsell(typed)
    assert words in str(refused.value)


@needs_table
def test_a_chroma_beyond_the_table_is_refused():
    with pytest.raises(BadInput, match=r"5R 5/50 lies outside the renotation's table"):
        munsell_xyy(parse_munsell("5R 5/50"))


def test_without_the_library_one_line_says_how_to_get_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "colour", None)
    monkeypatch.setitem(sys.modules, "colour.notation", None)
    with pytest.raises(BadInput, match=r"install sprayout\[munsell\]"):
        munsell_xyy(parse_munsell("5R 5/10"))

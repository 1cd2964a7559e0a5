"""CIEDE2000 against the published pairs, and what every difference must obey."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.colour.difference import ciede2000, difference
from sprayout.colour.words import verdict, words
from sprayout.errors import BadInput

TABLES = Path(__file__).parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    lines = (TABLES / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


SHARMA = [[float(cell) for cell in row.values()] for row in rows("sharma2005_ciede2000.csv")]
LABS = st.tuples(st.floats(0, 100), st.floats(-110, 110), st.floats(-110, 110))


@pytest.mark.parametrize("pair", SHARMA, ids=range(1, 35))
def test_sharma_wu_dalal_2005_table_1(pair: list[float]) -> None:
    one, other, published = pair[:3], pair[3:6], pair[6]
    assert float(ciede2000(one, other)) == pytest.approx(published, abs=1e-4)
    assert float(ciede2000(other, one)) == pytest.approx(published, abs=1e-4)


def test_all_34_pairs_are_there_and_batch_equals_single() -> None:
    table = np.array(SHARMA)
    assert table.shape == (34, 7)
    np.testing.assert_allclose(ciede2000(table[:, :3], table[:, 3:6]), table[:, 6], atol=1e-4)


@settings(deadline=None, max_examples=100)
@given(LABS, LABS)
def test_symmetric_not_negative_and_parts_add_up(
    one: tuple[float, float, float], other: tuple[float, float, float]
) -> None:
    found = difference(one, other)
    total = found.lightness**2 + found.chroma**2 + found.hue**2 + found.rotation
    assert found.de00 >= 0.0
    assert found.de00**2 == pytest.approx(max(total, 0.0), abs=1e-6)
    assert found.de00 == pytest.approx(float(ciede2000(other, one)), abs=1e-6)


@settings(deadline=None, max_examples=50)
@given(LABS)
def test_a_colour_differs_by_nothing_from_itself(lab: tuple[float, float, float]) -> None:
    assert difference(lab, lab).de00 == pytest.approx(0.0, abs=1e-9)
    assert words(lab, lab).plain == "matched"


@pytest.mark.parametrize(
    ("target", "now", "first", "plain"),
    [
        ((50, 0, 0), (45, 0, 0), "darker", "too dark"),
        ((50, 0, 0), (56, 0, 0), "lighter", "too light"),
        ((50, 0, 0), (50, 5, 0), "redder", "too red"),
        ((50, 0, 0), (50, -5, 0), "greener", "too green"),
        ((50, 0, 0), (50, 0, 5), "yellower", "too yellow"),
        ((50, 0, 0), (50, 0, -5), "bluer", "too blue"),
        ((50, 0, 60), (50, 0, 45), "dirtier", "too dirty"),
        ((50, 0, 45), (50, 0, 60), "cleaner", "too clean"),
        ((60, 40, 50), (60, 50, 40), "redder", "too red"),
        ((45, -40, 20), (45, -40, 10), "bluer", "too blue"),
    ],
)
def test_words_name_the_largest_part(
    target: tuple[float, float, float],
    now: tuple[float, float, float],
    first: str,
    plain: str,
) -> None:
    found = words(target, now)
    assert found.trade[0] == first
    assert found.plain.split(", ")[0] == plain


def test_words_name_two_parts_of_like_size() -> None:
    assert words((50, 0, 0), (46, 3, 0)).trade == ("redder", "darker")


@pytest.mark.parametrize(
    ("de00", "u95", "said"),
    [(0.5, 0.3, "pass"), (1.0, 0.0, "pass"), (1.5, 0.3, "close"), (2.1, 0.3, "off"),
     (0.5, 1.4, "close")],
)  # fmt: skip
def test_verdict_from_a_tolerance_of_one(de00: float, u95: float, said: str) -> None:
    assert verdict(de00, 1.0, u95) == said


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan")])
def test_a_tolerance_is_above_nought(tolerance: float) -> None:
    with pytest.raises(BadInput, match="tolerance: got"):
        verdict(1.0, tolerance)


def test_no_number_is_never_a_pass() -> None:
    with pytest.raises(BadInput, match="measure the swatch again"):
        verdict(float("nan"), 1.0)

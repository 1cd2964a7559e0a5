"""The cautions: all of them, in plain words, for every region, and never the forbidden words."""

import pytest

from sprayout.errors import BadInput
from sprayout.safety.cautions import (
    FORBIDDEN_WORDS,
    REGIONS,
    cautions_text,
    for_spraying,
    forbidden_words_in,
    one_line,
)

KEYS = [
    "ventilation",
    "respirator",
    "ignition",
    "gloves_eyes",
    "others",
    "rags",
    "skin",
    "authority",
    "estimate",
]


@pytest.mark.parametrize("region", REGIONS)
def test_every_region_shows_every_caution(region: str) -> None:
    cautions = for_spraying(region)
    assert [caution.key for caution in cautions] == KEYS
    assert all(len(caution.words) > 30 for caution in cautions)


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("ventilation", "ducted outdoors"),
        ("ventilation", "not solvent vapour"),
        ("respirator", "data sheet names"),
        ("ignition", "flame"),
        ("gloves_eyes", "goggles"),
        ("others", "children"),
        ("rags", "heat by themselves"),
        ("skin", "soap and water"),
        ("estimate", "estimate, not a measurement"),
    ],
)
def test_caution_says(key: str, words: str) -> None:
    for region in REGIONS:
        assert words in {c.key: c.words for c in for_spraying(region)}[key]


@pytest.mark.parametrize("region", REGIONS)
def test_order_of_authority_is_data_sheet_code_professional_tool(region: str) -> None:
    words = {c.key: c.words for c in for_spraying(region)}["authority"]
    places = [words.index(x) for x in ("data sheet", "fire", "licensed professional", "this tool")]
    assert places == sorted(places)


def test_one_line_is_one_line_and_names_the_main_things() -> None:
    line = one_line().lower()
    assert "\n" not in line
    for word in ("ventilate", "respirator", "gloves", "ignition", "rags", "estimate, not a meas"):
        assert word in line


@pytest.mark.parametrize("region", ["US", " eu "])
def test_region_is_read_kindly(region: str) -> None:
    assert for_spraying(region) == for_spraying(region.strip().lower())


@pytest.mark.parametrize("region", ["", "mars", "us,uk"])
def test_unknown_region_is_refused(region: str) -> None:
    with pytest.raises(BadInput, match="us, uk or eu"):
        for_spraying(region)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("This air is safe.", ("safe",)),
        ("You can Safely spray, no risk", ("safely", "no risk")),
        ("UNSAFE or risk-free", ("unsafe", "risk-free")),
        ("the safety data sheet", ()),
        ("safeguard", ()),
    ],
)
def test_word_guard(text: str, found: tuple[str, ...]) -> None:
    assert forbidden_words_in(text) == found


def test_word_guard_holds_every_listed_word() -> None:
    for word in FORBIDDEN_WORDS:
        assert forbidden_words_in(f"it is {word} here") == (word,)


@pytest.mark.parametrize("region", REGIONS)
def test_cautions_pass_the_word_guard(region: str) -> None:
    assert forbidden_words_in(cautions_text(region) + one_line()) == ()

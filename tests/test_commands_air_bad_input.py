"""Each bad input that booth air and breathing have to refuse: exit 2 and one line, and over HTTP.

The list is that of the trade's own slips: a humidity above 100, shares that do not sum, a name
that is not a solvent, no thickness, hectopascals for pascals; a limit that is missing, ppm of a
pigment, a mixing factor below 1, litres for cubic metres.
"""

import json

import pytest

from sprayout.cli import main
from sprayout.safety.cautions import forbidden_words_in

GOOD = {
    "--air-c": "22", "--rh-pct": "60", "--reducer": "toluene=60,acetone=40", "--metal": "steel",
    "--metal-mm": "0.3", "--wet-film-um": "30",
}  # fmt: skip


def blush(**changed: str | None) -> list[str]:
    options = {**GOOD, **{f"--{k.replace('_', '-')}": v for k, v in changed.items()}}
    return ["blush", *(word for k, v in options.items() if v is not None for word in (k, v))]


CASES = [
    (blush(rh_pct="104"), "humidity: got 104 %RH"),
    (blush(rh_pct=None), "rh_pct: missing"),
    (blush(reducer="toluene=60,acetone=30"), "shares sum to 90"),
    (blush(reducer="tolune=1"), "nearest: toluene"),
    (blush(metal_mm="0"), "metal thickness: got 0 mm"),
    (blush(wet_film_um="0"), "wet film: got 0 µm"),
    (blush(pressure_pa="1013"), "looks like hPa"),
    (blush(air_c="72"), "air temperature: got 72"),
    (["air", "respirator", "--substance", "TiO2", "--ppm", "5"], "particulate"),
    (["air", "dilution", "--substance", "toluene", "--evaporation-ml-min", "1", "--target-ppm",
      "20", "--mixing-divisor", "0.3"], "multiplies the flow, enter 3.33"),
    (["air", "mixture", "--part", "50/0"], "limit"),
    (["air", "cartridge", "--substance", "tolune", "--ppm", "20", "--rh-pct", "50"],
     "nearest known: Toluene"),
    (["air", "purge", "--volume-m3", "0", "--flow-m3h", "300", "--from", "100", "--to", "1"],
     "volume"),
    (["air", "purge", "--volume-m3", "30", "--flow-m3h", "0", "--from", "100", "--to", "1"],
     "no air leaves"),
    (["probe-check", "--point", "NaCl=95@20/240"], "probe reads 95 %RH over NaCl"),
    (["probe-check"], "got no --point"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "named"), CASES, ids=lambda value: str(value)[:50])
def test_bad_input_is_one_line_and_exit_2(
    words: list[str], named: str, capfd: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    out, err = capfd.readouterr()
    assert ended.value.code == 2, err
    assert out == "" and err.count("\n") == 1
    assert named in err
    assert forbidden_words_in(err) == ()


def test_a_missing_limit_is_cannot_assess_and_never_zero(
    capfd: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main(["air", "mixture", "--part", "50/", "--part", "3/10", "--json"])
    answer = json.loads(capfd.readouterr().out)
    assert answer["index"] is None and answer["level"] == "cannot assess"


def test_a_unit_that_looks_wrong_is_asked_about(capfd: pytest.CaptureFixture[str]) -> None:
    """30 000 m³ of room are litres, most likely: answered, and asked."""
    given = [
        "air",
        "purge",
        "--volume-m3",
        "30000",
        "--flow-m3h",
        "300",
        "--from",
        "9",
        "--to",
        "1",
    ]
    with pytest.raises(SystemExit) as ended:
        main(given)
    assert ended.value.code in (0, None)
    assert "litres or cubic feet?" in capfd.readouterr().out

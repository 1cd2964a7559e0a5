"""The build guide says what the program does."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from sprayout.link.frames import LineDecoder
from sprayout.sim.board_program import load
from sprayout.sim.board_talk import BoardTalk
from sprayout.sim.surroundings import SteadySurroundings

DOCS = Path(__file__).resolve().parent.parent / "docs"
GUIDE = (DOCS / "board.md").read_text(encoding="utf-8")
DRAWING = (DOCS / "board-wiring.svg").read_text(encoding="utf-8")


def cells(row_name: str) -> list[str]:
    row = next(line for line in GUIDE.splitlines() if line.startswith(f"| {row_name}"))
    return [cell.strip() for cell in row.strip("|").split("|")]


@pytest.mark.parametrize(
    ("row", "pin"),
    [("SDA", "sda"), ("SCL", "scl"), ("Button", "button"), ("Lamp switch", "lamp")],
)
def test_pins_are_those_of_the_settings(row: str, pin: str) -> None:
    pins = load()["settings"].PINS
    expected = [f"GP{pins['rp2'][pin]}", f"IO{pins['esp32'][pin]}"]
    assert cells(row)[1:] == expected
    assert " / ".join(expected) in DRAWING


def test_addresses_are_those_of_the_drivers() -> None:
    drivers = load()["drivers"].DRIVERS
    for driver in (driver for known in drivers.values() for driver in known):
        address = f"0x{driver.addresses[0]:02X}".replace("0X", "0x")
        assert address in GUIDE and address in DRAWING, driver.name


def test_every_self_test_check_is_explained() -> None:
    explained = " ".join(line.split("|")[1] for line in GUIDE.splitlines() if line.count("|") == 4)
    checks = BoardTalk(SteadySurroundings()).ask("self_test")["checks"]
    for check in checks:  # type: ignore[attr-defined]
        assert check["name"] in explained


def test_the_example_line_is_a_good_frame() -> None:
    line = next(line for line in GUIDE.splitlines() if line.startswith('{"jsonrpc"'))
    assert LineDecoder().receive(line.encode() + b"\n") == [
        {"jsonrpc": "2.0", "id": 1, "method": "hello", "params": {"protocol": 1}}
    ]


def test_figures_named_are_those_in_force() -> None:
    modules = load()
    settings, colour, frames = modules["settings"], modules["colour"], modules["frames"]
    assert f"{colour.WARM_UP_MS} ms for the LED to settle" in GUIDE
    assert f"at most {frames.LONGEST:,} bytes" in GUIDE
    assert f"runs at {settings.BUS_HZ // 1000} kHz" in GUIDE
    assert "below 80 % of full scale" in GUIDE and colour._HEADROOM == 0.8


def test_radio_settings_and_figures_are_those_of_the_program() -> None:
    modules = load()
    names = [name for name in vars(modules["settings"]) if name.isupper()]
    assert {name for name in names if f"`{name}`" not in GUIDE} == {"NAME", "BUS_HZ", "PINS"}
    telemetry = modules["telemetry"]
    assert f"the last {telemetry.MOST_WAITING} packs" in GUIDE
    assert (telemetry.EVERY_MS, telemetry.EVERY_AWAY_MS) == (2000, 5000)
    assert "every two seconds" in GUIDE and "every five seconds" in GUIDE


def test_cautions_stand_before_the_parts_and_nothing_is_called_safe() -> None:
    assert GUIDE.index("safety data sheet") < GUIDE.index("## Parts")
    assert not re.search(r"\bsafe\b", GUIDE)


def test_drawing_is_well_formed_and_self_contained() -> None:
    root = ElementTree.fromstring(DRAWING)
    assert root.tag.endswith("svg") and root[0].text
    assert "http" not in DRAWING.replace("http://www.w3.org/2000/svg", "")

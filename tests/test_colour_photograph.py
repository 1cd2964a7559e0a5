"""Colours picked in pictures: profiles honoured, faults of the picture said."""

import io
import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from sprayout.acts.photographing import look_at, target_from_pictures
from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import lab_to_srgb
from sprayout.colour.tristimulus import white_point
from sprayout.commands.photograph import parse_pick, register
from sprayout.errors import BadInput

Image = pytest.importorskip("PIL.Image")
ImageCms = pytest.importorskip("PIL.ImageCms")

HULL = (45.0, 25.0, 15.0)


def picture(path: Path, rgb: tuple[int, int, int], card: Any = None, **save: Any) -> str:
    image = Image.new("RGB", (60, 40), rgb)
    if card:
        image.paste(card, (40, 0, 60, 40))
    image.save(path, **save)
    return str(path)


def screen(lab: tuple[float, float, float]) -> tuple[int, int, int]:
    colour = lab_to_srgb(lab, white_point("d50", 2))
    assert colour.in_gamut
    return colour.red, colour.green, colour.blue


def test_an_srgb_patch_comes_back_as_its_lab(tmp_path: Path) -> None:
    """8-bit sRGB and 8-bit Lab: within 0.8."""
    name = picture(tmp_path / "a.png", screen(HULL))
    seen = look_at(parse_pick(f"{name}:5,5,10,10"))
    assert float(ciede2000(HULL, seen.lab_d50_2)) < 0.8
    assert seen.profile is None


@pytest.mark.parametrize(
    ("inks", "words"),
    [
        ((0, 0, 0, 0), "burnt out"),
        ((0, 0, 0, 255), "its colour profile cannot be used"),
        ((255, 180, 20, 40), "its colour profile cannot be used"),
        ((0, 230, 255, 0), "its colour profile cannot be used"),
    ],
    ids=["bare paper", "black", "blue", "red"],
)
def test_full_ink_is_dark_and_not_burnt_out(
    tmp_path: Path, inks: tuple[int, int, int, int], words: str
) -> None:
    """No profile of a press is at hand: what is not burnt out is refused for lack of one."""
    name = tmp_path / "print.tif"
    Image.new("CMYK", (60, 40), inks).save(name)
    with pytest.raises(BadInput, match=words):
        look_at(parse_pick(f"{name}:5,5,10,10"))


def linear_profile() -> bytes:
    """A matrix profile (ICC.1:2022) with the primaries of sRGB, D50-adapted, and no curve."""

    def fixed(*values: float) -> bytes:
        return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in values))

    words = "linear test"
    text = words.encode("utf-16-be")
    head = struct.pack(">4I2s2s2I", 0, 1, 12, 0, b"en", b"US", len(text), 28)
    described = b"mluc" + head[:12] + head[16:] + text
    curve = b"curv\0\0\0\0" + struct.pack(">I", 0)
    tags = {
        b"desc": described + b"\0" * (-len(described) % 4),
        b"wtpt": fixed(0.9642, 1.0, 0.8249),
        b"rXYZ": fixed(0.4361, 0.2225, 0.0139),
        b"gXYZ": fixed(0.3851, 0.7169, 0.0971),
        b"bXYZ": fixed(0.1431, 0.0606, 0.7141),
        **dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve),
    }
    table, body, place = struct.pack(">I", len(tags)), b"", 132 + 12 * len(tags)
    for name, content in tags.items():
        table += name + struct.pack(">2I", place + len(body), len(content))
        body += content
    size = 128 + len(table) + len(body)
    header = struct.pack(">I4sI4s4s4s", size, b"\0" * 4, 0x04300000, b"mntr", b"RGB ", b"XYZ ")
    header += struct.pack(">6H4s", 2026, 1, 1, 0, 0, 0, b"acsp") + b"\0" * 28
    header += struct.pack(">3i", 63190, 65536, 54061)
    return header.ljust(128, b"\0") + table + body


def test_an_embedded_profile_changes_what_is_seen(tmp_path: Path) -> None:
    """128 of 255 is Y = 50.2 % without a curve, so L = 76.2; as sRGB it is 21.6 %, L = 53.6."""
    tagged = picture(tmp_path / "a.png", (128, 128, 128), icc_profile=linear_profile())
    seen = look_at(parse_pick(f"{tagged}:5,5,10,10"))
    assert seen.lab_d50_2[0] == pytest.approx(76.2, abs=0.5)
    assert seen.profile == "linear test"
    grey = Image.new("L", (20, 20), 128)
    grey.save(tmp_path / "grey.png")
    assert look_at(parse_pick(f"{tmp_path / 'grey.png'}:0,0,20,20")).lab_d50_2[0] == pytest.approx(
        53.6, abs=0.5
    )


def test_two_pictures_and_a_card_make_a_guide(tmp_path: Path) -> None:
    one = picture(tmp_path / "a.png", screen(HULL), screen((95.0, 0.0, 0.0)))
    two = picture(tmp_path / "b.png", screen((46.0, 26.0, 14.0)))
    target = target_from_pictures(
        "hull",
        [parse_pick(f"{one}:5,5,10,10"), parse_pick(f"{two}:5,5,10,10")],
        [parse_pick(f"{one}:45,5,10,10")],
        95.0,
    )
    assert float(ciede2000(target.lab_d50_2, (45.5, 25.5, 14.5))) < 1.5
    assert target.u95_de00 >= 5.0
    assert any("taken as sRGB: a.png, b.png" in note for note in target.notes)


@pytest.mark.parametrize(
    ("pick", "match"),
    [
        ("a.png:1,2,3", "wanted FILE:X,Y,W,H"),
        ("a.png:0,0,2,2", "wanted at least 9"),
        ("a.png:55,5,10,10", "outside its 60 x 40 pixels"),
        ("none.png:0,0,9,9", "cannot be read"),
        ("text.png:0,0,9,9", "not a picture"),
        ("white.png:0,0,9,9", "burnt out"),
    ],
)
def test_pictures_that_cannot_be_used(tmp_path: Path, pick: str, match: str) -> None:
    picture(tmp_path / "a.png", (100, 90, 80))
    picture(tmp_path / "white.png", (255, 255, 255))
    (tmp_path / "text.png").write_text("not a picture")
    with pytest.raises(BadInput, match=match):
        look_at(parse_pick(str(tmp_path / pick)))


def test_a_broken_profile_is_refused(tmp_path: Path) -> None:
    name = picture(tmp_path / "a.png", (100, 90, 80), icc_profile=b"broken" * 40)
    with pytest.raises(BadInput, match="profile cannot be used"):
        look_at(parse_pick(f"{name}:5,5,10,10"))


def test_the_command_says_that_it_is_a_guide(tmp_path: Path) -> None:
    app = typer.Typer()
    app.callback()(lambda: None)
    register(app)
    name = picture(tmp_path / "a.png", screen(HULL))
    args = ["photograph", "hull", "--patch", f"{name}:5,5,10,10"]
    assert "a guide to the colour" in CliRunner().invoke(app, args).stdout
    answer = json.loads(CliRunner().invoke(app, [*args, "--json"]).stdout)
    assert answer["origin"] == "photographs"


def test_bytes_are_not_kept_open(tmp_path: Path) -> None:
    name = picture(tmp_path / "a.jpg", (100, 90, 80), quality=95)
    look_at(parse_pick(f"{name}:5,5,10,10"))
    buffer = io.BytesIO(Path(name).read_bytes())
    assert np.asarray(Image.open(buffer)).shape == (40, 60, 3)

"""A colour picked in photographs: files and profiles at the edge, the arithmetic in ``colour``.

``sprayout photograph NAME --patch FILE:X,Y,W,H [--neutral FILE:X,Y,W,H]`` prints a target that is
a guide only.  An embedded colour profile is honoured (Pillow, LittleCMS); a picture without one is
taken as sRGB and said to be.
"""

from __future__ import annotations

import dataclasses
import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from sprayout.colour.targets import ColourTarget, PhotoLook, photo_target
from sprayout.colour.tristimulus import Lab
from sprayout.errors import BadInput

BURNT_SHARE = 0.05
_LEAST_PIXELS = 9


@dataclass(frozen=True, slots=True)
class Pick:
    """A rectangle in a picture, pixels from the upper left corner of the upright picture."""

    path: Path
    left: int
    top: int
    width: int
    height: int


def parse_pick(text: str) -> Pick:
    """``FILE:X,Y,W,H``."""
    name, _, box = text.rpartition(":")
    cells = box.split(",")
    if not name or len(cells) != 4 or not all(cell.strip().isdigit() for cell in cells):
        raise BadInput(f"patch: got {text!r}, wanted FILE:X,Y,W,H in whole pixels")
    left, top, width, height = (int(cell) for cell in cells)
    if width * height < _LEAST_PIXELS:
        raise BadInput(
            f"patch: got {width} x {height} pixels, wanted at least {_LEAST_PIXELS} in all"
        )
    return Pick(Path(name), left, top, width, height)


@dataclass(frozen=True, slots=True)
class Seen:
    """Median Lab D50/2 of a rectangle; ``profile`` is the embedded profile's name or None."""

    lab_d50_2: Lab
    profile: str | None


def look_at(pick: Pick) -> Seen:
    """Decode one picture and look at one rectangle of it."""
    image = _open(pick.path)
    box = (pick.left, pick.top, pick.left + pick.width, pick.top + pick.height)
    if box[2] > image.width or box[3] > image.height:
        raise BadInput(
            f"picture {pick.path.name}: the patch ends at {box[2]},{box[3]}, outside its "
            f"{image.width} x {image.height} pixels; pick again"
        )
    part = image.crop(box)
    _refuse_burnt(np.asarray(part), pick)
    lab, profile = _to_lab(part, image.info.get("icc_profile"), pick)
    return Seen(lab, profile)


def _open(path: Path) -> Any:
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError
    except ImportError as error:
        raise BadInput(
            "photographs: Pillow is not installed; install sprayout[photographs]"
        ) from error
    try:
        with Image.open(path) as file:
            upright = ImageOps.exif_transpose(file)
            upright.load()
    except UnidentifiedImageError as error:
        raise BadInput(f"picture {path.name}: not a picture; wanted JPEG, PNG or TIFF") from error
    except (OSError, Image.DecompressionBombError) as error:
        raise BadInput(f"picture {path.name}: cannot be read ({error}); check the file") from error
    plain_grey = upright.mode == "L" and "icc_profile" not in upright.info
    if upright.mode not in ("RGB", "CMYK", "L") or plain_grey:
        kept = upright.info.get("icc_profile") if upright.mode == "RGBA" else None
        upright = upright.convert("RGB")
        upright.info["icc_profile"] = kept
    return upright


def _refuse_burnt(pixels: Any, pick: Pick) -> None:
    flat = pixels.reshape(-1, pixels.shape[-1] if pixels.ndim == 3 else 1)
    burnt = float(np.mean((flat >= 255).any(axis=1)))
    if burnt > BURNT_SHARE:
        raise BadInput(
            f"picture {pick.path.name}: {100 * burnt:.0f} % of the patch is burnt out; pick a part "
            "without highlights or another picture"
        )


def _to_lab(part: Any, profile: bytes | None, pick: Pick) -> tuple[Lab, str | None]:
    from PIL import ImageCms

    try:
        source = (
            ImageCms.ImageCmsProfile(io.BytesIO(profile))
            if profile
            else ImageCms.createProfile("sRGB")
        )
        goal = ImageCms.createProfile("LAB")
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        transform = ImageCms.buildTransform(source, goal, part.mode, "LAB", intent)
        done = ImageCms.applyTransform(part, transform)
        name = ImageCms.getProfileDescription(source).strip() if profile else None
    except (ImageCms.PyCMSError, OSError, ValueError) as error:
        raise BadInput(
            f"picture {pick.path.name}: its colour profile cannot be used ({error}); "
            "export the picture as sRGB"
        ) from error
    raw = np.asarray(done).reshape(-1, 3).astype(float)
    # Pillow's LAB: L in 0..255, a and b as signed bytes.
    raw[:, 1:] = np.where(raw[:, 1:] > 127, raw[:, 1:] - 256.0, raw[:, 1:])
    lightness, a, b = np.median(raw, axis=0)
    return (float(lightness) / 2.55, float(a), float(b)), name


def target_from_pictures(
    name: str, patches: list[Pick], neutrals: list[Pick], neutral_l: float | None
) -> ColourTarget:
    """The guide to a colour out of several pictures; a neutral belongs to its own picture."""
    whites = {pick.path: look_at(pick).lab_d50_2 for pick in neutrals}
    foreign = set(whites) - {pick.path for pick in patches}
    if foreign:
        raise BadInput(f"neutral: no patch was picked in {sorted(foreign)[0].name}; pick one there")
    looks, plain = [], []
    for pick in patches:
        seen = look_at(pick)
        white = whites.get(pick.path)
        looks.append(PhotoLook(pick.path.name, seen.lab_d50_2, white, neutral_l if white else None))
        if seen.profile is None:
            plain.append(pick.path.name)
    target = photo_target(name, looks)
    if not plain:
        return target
    note = f"no colour profile embedded, taken as sRGB: {', '.join(dict.fromkeys(plain))}"
    return dataclasses.replace(target, notes=(*target.notes, note))


def register(app: typer.Typer) -> None:
    """Add ``photograph`` to the command line."""

    @app.command("photograph")
    def photograph_command(
        name: Annotated[str, typer.Argument(help="What the target is called.")],
        patch: Annotated[list[str], typer.Option(help="FILE:X,Y,W,H; give one for each picture.")],
        neutral: Annotated[
            list[str] | None, typer.Option(help="A white or grey in the picture: FILE:X,Y,W,H.")
        ] = None,
        neutral_l: Annotated[
            float | None, typer.Option(help="L of the neutral where known; a white card: about 95.")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """A guide to a colour that is known only from photographs."""
        target = target_from_pictures(
            name,
            [parse_pick(text) for text in patch],
            [parse_pick(text) for text in neutral or []],
            neutral_l,
        )
        typer.echo(json.dumps(dataclasses.asdict(target)) if as_json else _in_words(target))


def _in_words(target: ColourTarget) -> str:
    lightness, a, b = target.lab_d50_2
    lines = [f"{target.name}: L {lightness:.0f} a {a:.0f} b {b:.0f} (D50/2), within about "
             f"{target.u95_de00:.0f} CIEDE2000"]  # fmt: skip
    return "\n".join([*lines, *target.notes])

"""A colour picked in photographs: pictures and profiles at the edge, the arithmetic in ``colour``.

An embedded colour profile is honoured (Pillow, LittleCMS); a picture without one is taken as sRGB
and said to be.
"""

import dataclasses
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sprayout.colour.targets import ColourTarget, PhotoLook, photo_target
from sprayout.colour.tristimulus import Lab
from sprayout.errors import BadInput

BURNT_SHARE = 0.05
LEAST_PIXELS = 9


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture by name: a file, or the bytes that were sent."""

    name: str
    source: Path | bytes


@dataclass(frozen=True, slots=True)
class Pick:
    """A rectangle in a picture, pixels from the upper left corner of the upright picture."""

    picture: Picture
    left: int
    top: int
    width: int
    height: int

    def __post_init__(self) -> None:
        if min(self.left, self.top) < 0 or min(self.width, self.height) < 1:
            raise BadInput(
                f"picture {self.picture.name}: got a patch at {self.left},{self.top} of "
                f"{self.width} x {self.height} pixels, wanted one inside the picture; pick again"
            )
        if self.width * self.height < LEAST_PIXELS:
            raise BadInput(
                f"patch: got {self.width} x {self.height} pixels, wanted at least {LEAST_PIXELS} "
                "in all"
            )


@dataclass(frozen=True, slots=True)
class Seen:
    """Median Lab D50/2 of a rectangle; ``profile`` is the embedded profile's name or None."""

    lab_d50_2: Lab
    profile: str | None


def look_at(pick: Pick) -> Seen:
    """Decode one picture and look at one rectangle of it."""
    image = _open(pick.picture)
    box = (pick.left, pick.top, pick.left + pick.width, pick.top + pick.height)
    if box[2] > image.width or box[3] > image.height:
        raise BadInput(
            f"picture {pick.picture.name}: the patch ends at {box[2]},{box[3]}, outside its "
            f"{image.width} x {image.height} pixels; pick again"
        )
    part = image.crop(box)
    _refuse_burnt(part, pick)
    lab, profile = _to_lab(part, image.info.get("icc_profile"), pick)
    return Seen(lab, profile)


def _open(picture: Picture) -> Any:
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError
    except ImportError as error:
        raise BadInput(
            "photographs: Pillow is not installed; install sprayout[photographs]"
        ) from error
    try:
        source = picture.source
        with Image.open(io.BytesIO(source) if isinstance(source, bytes) else source) as file:
            upright = ImageOps.exif_transpose(file)
            upright.load()
    except UnidentifiedImageError as error:
        raise BadInput(
            f"picture {picture.name}: not a picture; wanted JPEG, PNG or TIFF"
        ) from error
    except (OSError, Image.DecompressionBombError) as error:
        raise BadInput(
            f"picture {picture.name}: cannot be read ({error}); check the file"
        ) from error
    plain_grey = upright.mode == "L" and "icc_profile" not in upright.info
    if upright.mode not in ("RGB", "CMYK", "L") or plain_grey:
        kept = upright.info.get("icc_profile") if upright.mode == "RGBA" else None
        upright = upright.convert("RGB")
        upright.info["icc_profile"] = kept
    return upright


def _refuse_burnt(part: Any, pick: Pick) -> None:
    inks = part.mode == "CMYK"
    pixels = np.asarray(part.convert("RGB") if inks else part)
    full = pixels.reshape(-1, pixels.shape[-1] if pixels.ndim == 3 else 1) >= 255
    # A strong printed colour lacks one ink or two; only bare paper is burnt out.
    burnt = float(np.mean(full.all(axis=1) if inks else full.any(axis=1)))
    if burnt > BURNT_SHARE:
        raise BadInput(
            f"picture {pick.picture.name}: {100 * burnt:.0f} % of the patch is burnt out; pick a "
            "part without highlights or another picture"
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
            f"picture {pick.picture.name}: its colour profile cannot be used ({error}); "
            "export the picture as sRGB"
        ) from error
    raw = np.asarray(done).reshape(-1, 3).astype(float)
    # Pillow's LAB: L in 0..255, a and b as signed bytes.
    raw[:, 1:] = np.where(raw[:, 1:] > 127, raw[:, 1:] - 256.0, raw[:, 1:])
    lightness, a, b = np.median(raw, axis=0)
    return (float(lightness) / 2.55, float(a), float(b)), name


def target_from_pictures(
    name: str, patches: Sequence[Pick], neutrals: Sequence[Pick], neutral_l: float | None
) -> ColourTarget:
    """The guide to a colour out of several pictures; a neutral belongs to its own picture."""
    whites = {pick.picture: look_at(pick).lab_d50_2 for pick in neutrals}
    foreign = set(whites) - {pick.picture for pick in patches}
    if foreign:
        first = min(picture.name for picture in foreign)
        raise BadInput(f"neutral: no patch was picked in {first}; pick one there")
    looks, plain = [], []
    for pick in patches:
        seen = look_at(pick)
        white = whites.get(pick.picture)
        looks.append(
            PhotoLook(pick.picture.name, seen.lab_d50_2, white, neutral_l if white else None)
        )
        if seen.profile is None:
            plain.append(pick.picture.name)
    target = photo_target(name, looks)
    if not plain:
        return target
    note = f"no colour profile embedded, taken as sRGB: {', '.join(dict.fromkeys(plain))}"
    return dataclasses.replace(target, notes=(*target.notes, note))

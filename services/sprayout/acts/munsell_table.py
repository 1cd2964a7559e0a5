"""The renotation's table, asked of colour-science (the ``munsell`` extra) when one is typed."""

import warnings

from sprayout.colour.munsell import Munsell
from sprayout.errors import BadInput


def munsell_xyy(notation: Munsell) -> tuple[float, float, float]:
    """Return x, y (illuminant C, 2 degrees) and Y (perfect diffuser = 1) of a notation.

    Source of the table: Newhall, Nickerson and Judd (1943), as colour-science ships it; Y of a
    value by ASTM D1535.  Raises BadInput where the library is missing or the table ends.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from colour.notation import munsell
    except ImportError as error:
        raise BadInput(
            "munsell: colour-science is not installed; install sprayout[munsell], or type the "
            "colour as Lab"
        ) from error
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            x, y, luminance = munsell.munsell_colour_to_xyY(_as_the_library_writes(notation))
    except (ValueError, AssertionError, RuntimeError) as error:
        raise BadInput(
            f"munsell: {notation} lies outside the renotation's table; lower the chroma, measure "
            "the colour or type its Lab"
        ) from error
    return float(x), float(y), float(luminance)


def _as_the_library_writes(notation: Munsell) -> str:
    if notation.hue is None or notation.chroma == 0.0:
        return f"N{notation.value:g}"
    step = notation.step
    return f"{step:.4g}{notation.hue} {notation.value:.4g}/{notation.chroma:.4g}"

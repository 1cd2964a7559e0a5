"""A colour difference in the words of the trade.

Thresholds are in the weighted terms of CIEDE2000, where about 1 is just seen by an untrained
eye: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sprayout.colour.difference import Difference, difference
from sprayout.colour.tristimulus import Lab
from sprayout.errors import BadInput

Verdict = Literal["pass", "close", "off"]
CLOSE_FACTOR = 2.0
_UNSEEN_DE00 = 0.4
_GREY_CHROMA = 6.0


@dataclass(frozen=True, slots=True)
class DifferenceWords:
    """``trade``: what the sample is against the target; ``plain``: what is wrong with it."""

    trade: tuple[str, ...]
    plain: str


def words(target: Lab, now: Lab) -> DifferenceWords:
    """Words for ``now`` against ``target`` (two Labs of one white), the largest part first."""
    found = sorted(_candidates(target, now), key=lambda pair: -pair[0])
    # A part far smaller than the largest one is not what a person would name.
    named = [word for size, word in found if size >= max(_UNSEEN_DE00, 0.3 * found[0][0])]
    if not named:
        return DifferenceWords((), "matched")
    return DifferenceWords(tuple(named), ", ".join(f"too {_PLAIN[word]}" for word in named))


_PLAIN = {
    "lighter": "light",
    "darker": "dark",
    "redder": "red",
    "greener": "green",
    "yellower": "yellow",
    "bluer": "blue",
    "cleaner": "clean",
    "dirtier": "dirty",
}


def _candidates(target: Lab, now: Lab) -> list[tuple[float, str]]:
    parts = difference(target, now)
    found = [(abs(parts.lightness), "lighter" if parts.lightness > 0 else "darker")]
    if _is_grey(target) or _is_grey(now):
        return [*found, *_axis_words(parts)]
    found.append((abs(parts.chroma), "cleaner" if parts.chroma > 0 else "dirtier"))
    found.append((abs(parts.hue), _hue_word(target, parts)))
    return found


def _is_grey(lab: Lab) -> bool:
    return float(np.hypot(lab[1], lab[2])) < _GREY_CHROMA


def _axis_words(parts: Difference) -> list[tuple[float, str]]:
    """Near grey, hue and chroma say little: name the red-green and yellow-blue axes."""
    flat = float(np.hypot(parts.chroma, parts.hue))
    plain = float(np.hypot(parts.delta_a, parts.delta_b)) or 1.0
    red = (flat * abs(parts.delta_a) / plain, "redder" if parts.delta_a > 0 else "greener")
    yellow = (flat * abs(parts.delta_b) / plain, "yellower" if parts.delta_b > 0 else "bluer")
    return [red, yellow]


def _hue_word(target: Lab, parts: Difference) -> str:
    """The axis of Lab the hue step points along most: a turn from orange is redder or yellower."""
    hue = float(np.arctan2(target[2], target[1]))
    turn = 1.0 if parts.hue > 0 else -1.0
    along_a, along_b = -np.sin(hue) * turn, np.cos(hue) * turn
    if abs(along_a) >= abs(along_b):
        return "redder" if along_a > 0 else "greener"
    return "yellower" if along_b > 0 else "bluer"


def verdict(de00: float, tolerance_de00: float, u95_de00: float = 0.0) -> Verdict:
    """``pass`` within the tolerance, ``close`` within twice, else ``off``.

    A reading whose uncertainty is wider than the tolerance cannot prove a pass: it is ``close``.
    """
    if not tolerance_de00 > 0.0:
        raise BadInput(
            f"tolerance: got {tolerance_de00:g}, wanted more than 0 CIEDE2000; 1.0 is a usual start"
        )
    if not np.isfinite(de00):
        raise BadInput("difference: got no number; measure the swatch again")
    if de00 <= tolerance_de00 and u95_de00 <= tolerance_de00:
        return "pass"
    return "close" if de00 <= CLOSE_FACTOR * tolerance_de00 else "off"

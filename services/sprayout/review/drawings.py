"""Our own simple drawings of the findings: a painted panel, 120 by 80, in lines and dots.

Drawn by code so that each has the same frame; ``currentColor`` lets the page's ink through.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

_SIZE = 'viewBox="0 0 120 80" width="120" height="80"'
_PANEL = '<rect x="4" y="4" width="112" height="72" rx="4" fill="none" stroke="currentColor"/>'


def _dot(x: float, y: float, r: float, filled: bool = True, opacity: float = 1.0) -> str:
    fill = "currentColor" if filled else "none"
    stroke = "" if filled else ' stroke="currentColor"'
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" fill="{fill}" '
        f'fill-opacity="{opacity:.2f}"{stroke}/>'
    )


def _line(points: str, width: float = 1.2) -> str:
    return f'<path d="{points}" fill="none" stroke="currentColor" stroke-width="{width}"/>'


def _scattered(count: int, draw: Callable[[float, float, random.Random], str], seed: int) -> str:
    chance = random.Random(seed)
    return "".join(
        draw(chance.uniform(12, 108), chance.uniform(12, 68), chance) for _ in range(count)
    )


def _blush() -> str:
    return _scattered(9, lambda x, y, c: _dot(x, y, c.uniform(8, 16), opacity=0.1), 1)


def _orange_peel() -> str:
    rows = [(x + 5 * (y // 10 % 2), y) for y in range(12, 72, 10) for x in range(12, 108, 10)]
    return "".join(_line(f"M{x - 4} {y} q4 -6 8 0") for x, y in rows)


def _dry_spray() -> str:
    return _scattered(260, lambda x, y, c: _dot(x, y, 0.7), 2)


def _run() -> str:
    tears = "".join(
        _line(f"M{x} 16 v{n}") + _dot(x, 16 + n, 3.5) for x, n in ((34, 26), (60, 44), (86, 32))
    )
    return _line("M10 16 h100", 2.0) + tears


def _fisheye() -> str:
    def eye(x: float, y: float, c: random.Random) -> str:
        return _dot(x, y, 5.5, filled=False) + _dot(x, y, 1.6)

    return _scattered(9, eye, 5)


def _solvent_pop() -> str:
    def blister(x: float, y: float, c: random.Random) -> str:
        return _line(f"M{x - 3:.1f} {y:.1f} a3 3 0 0 1 6 0") + _dot(x, y - 2.4, 0.8)

    return _scattered(26, blister, 6)


def _pinholes() -> str:
    return _scattered(38, lambda x, y, c: _dot(x, y, 1.1), 7)


def _lifting() -> str:
    waves = (
        _line(f"M8 {y} " + "".join(f"q5 {-7 if i % 2 else 7} 10 0 " for i in range(10)))
        for y in (18, 30, 42, 54, 66)
    )
    return "".join(waves)


def _dust_nibs() -> str:
    def nib(x: float, y: float, c: random.Random) -> str:
        return _dot(x, y, 1.8) + _line(f"M{x:.1f} {y:.1f} l{c.uniform(-6, 6):.1f} -4", 0.8)

    return _scattered(8, nib, 8)


def _poor_hiding() -> str:
    stripes = "".join(_line(f"M{x} 6 l-20 68", 3.0) for x in range(36, 130, 22))
    return f'<g opacity="0.35">{stripes}</g>'


def _colour_off() -> str:
    half = '<rect x="5" y="5" width="55" height="70" fill="currentColor" fill-opacity="{}"/>'
    return half.format(0.55) + half.replace('x="5"', 'x="60"').format(0.25)


def _gloss_off() -> str:
    shine = _line("M18 62 L46 16", 5.0) + _line("M34 62 L62 16", 2.0)
    dull = '<rect x="68" y="5" width="47" height="70" fill="currentColor" fill-opacity="0.25"/>'
    return f'<g opacity="0.6">{shine}</g>{dull}'


def _slow_dry() -> str:
    return "".join(
        _line(f"M{60 - r} 44 a{r} {r * 1.3:.1f} 0 0 1 {2 * r} 0 v8") for r in range(4, 26, 5)
    )


def _loss_of_detail() -> str:
    crisp = "".join(_line(f"M{x} 24 v-8 h8 v8") for x in range(14, 100, 18))
    drowned = "".join(_line(f"M{x - 4} 62 q8 -7 16 0") for x in range(14, 100, 18))
    return _line("M10 24 h100", 0.6) + crisp + _line("M10 62 h100", 0.6) + drowned


_DRAWINGS: dict[str, Callable[[], str]] = {
    "blush": _blush,
    "orange_peel": _orange_peel,
    "dry_spray": _dry_spray,
    "run": _run,
    "fisheye": _fisheye,
    "solvent_pop": _solvent_pop,
    "pinholes": _pinholes,
    "lifting": _lifting,
    "dust_nibs": _dust_nibs,
    "poor_hiding": _poor_hiding,
    "colour_off": _colour_off,
    "gloss_off": _gloss_off,
    "slow_dry": _slow_dry,
    "loss_of_detail": _loss_of_detail,
}


@cache
def drawing(defect: str) -> str:
    """The drawing of a finding as one SVG element; KeyError for what is no finding."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {_SIZE} role="img" aria-hidden="true">'
        f"{_PANEL}{_DRAWINGS[defect]()}</svg>"
    )

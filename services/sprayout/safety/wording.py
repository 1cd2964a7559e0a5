"""How a figure is said, and the words never shown because no estimate of ours can carry them."""

import re

FORBIDDEN_WORDS = ("safe", "safely", "no risk")
"""Whole words that may stand in no output; tests walk every page, print and command with them."""

_PATTERN = re.compile(
    r"\b(?:un)?safe(?:ly)?\b|\bno[\s-]+risks?\b|\brisk[\s-]+free\b", re.IGNORECASE
)


def forbidden_words_in(text: str) -> tuple[str, ...]:
    """The forbidden words found in ``text``, in lower case, in the order they stand there.

    "Safety data sheet" is a document's name and passes.
    """
    return tuple(found.lower() for found in _PATTERN.findall(text))


def said(value: float) -> str:
    """A figure to three significant digits without an exponent: ``1430``, ``0.0123``.

    Below 1e-4 and from 1e9 on the exponent stays.
    """
    if value == 0 or not 1e-4 <= abs(value) < 1e9:
        return f"{value:.3g}"
    rounded = float(f"{value:.3g}")
    return f"{rounded:.0f}" if abs(rounded) >= 100 else f"{rounded:.7f}".rstrip("0").rstrip(".")

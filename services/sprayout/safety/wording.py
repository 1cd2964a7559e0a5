"""Words this tool never shows, because no estimate of ours can carry them."""

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

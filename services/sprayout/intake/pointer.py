"""JSON Pointer, RFC 6901: ``/temperature``, ``/sensors/0/value``."""

from __future__ import annotations

import re

from sprayout.errors import BadInput

_INDEX = re.compile(r"(0|[1-9][0-9]*)\Z")


def check_pointer(pointer: str) -> None:
    """:class:`BadInput` where ``pointer`` breaks the syntax (RFC 6901, section 3)."""
    if (pointer and not pointer.startswith("/")) or re.search(r"~(?![01])", pointer):
        raise BadInput(f"JSON pointer {pointer!r}: wanted one like /temperature (RFC 6901)")


def find(document: object, pointer: str) -> object:
    """The value ``pointer`` names; :class:`BadInput` says what is there instead."""
    check_pointer(pointer)
    value = document
    for token in pointer.split("/")[1:]:
        value = _step(value, token.replace("~1", "/").replace("~0", "~"), pointer)
    return value


def _step(value: object, token: str, pointer: str) -> object:
    if isinstance(value, dict) and token in value:
        return value[token]
    if isinstance(value, list) and _INDEX.match(token) and int(token) < len(value):
        return value[int(token)]
    raise BadInput(f"nothing at {pointer}; {_what_is_there(value)}")


def _what_is_there(value: object) -> str:
    if isinstance(value, dict):
        return f"there is {', '.join(map(str, list(value)[:12])) or 'an empty object'}"
    if isinstance(value, list):
        return f"there is a list of {len(value)}"
    return "the payload holds a single value there"

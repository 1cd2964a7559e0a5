"""Reading typed fields out of a JSON object; what is wrong is named by its place."""

from __future__ import annotations

import math
from collections.abc import Mapping

from sprayout.errors import BadInput


class Fields:
    """One JSON object and the place it stands at, for messages."""

    def __init__(self, given: object, place: str) -> None:
        if not isinstance(given, Mapping):
            raise BadInput(f"{place}: got {shown(given)}, wanted an object")
        self.given: Mapping[str, object] = given
        self._place = place

    def number(self, name: str) -> float:
        """A finite number."""
        return _number(self._value(name), self._where(name))

    def positive(self, name: str) -> float:
        """A finite number above zero."""
        value = self.number(name)
        if value <= 0:
            raise BadInput(f"{self._where(name)} is {value:g}, wanted above 0")
        return value

    def positive_or_none(self, name: str) -> float | None:
        """A number above zero, or None where the field is missing or null."""
        return None if self.given.get(name) is None else self.positive(name)

    def integer(self, name: str) -> int:
        """A whole number."""
        value = self._value(name)
        if isinstance(value, bool) or not isinstance(value, int):
            raise BadInput(f"{self._where(name)} is {shown(value)}, wanted a whole number")
        return value

    def natural(self, name: str) -> int:
        """A whole number from 0."""
        value = self.integer(name)
        if value < 0:
            raise BadInput(f"{self._where(name)} is {value}, wanted 0 or more")
        return value

    def truth(self, name: str) -> bool:
        """True or false."""
        value = self._value(name)
        if not isinstance(value, bool):
            raise BadInput(f"{self._where(name)} is {shown(value)}, wanted true or false")
        return value

    def text(self, name: str) -> str:
        """Text."""
        return _text(self._value(name), self._where(name))

    def texts(self, name: str) -> tuple[str, ...]:
        """An array of text."""
        return tuple(_text(item, self._where(name)) for item in self._array(name))

    def numbers(self, name: str) -> tuple[float, ...]:
        """An array of finite numbers."""
        return tuple(_number(item, self._where(name)) for item in self._array(name))

    def nested(self, name: str) -> Fields:
        """An object."""
        return Fields(self._value(name), self._where(name))

    def nested_each(self, name: str) -> tuple[Fields, ...]:
        """An array of objects."""
        return tuple(Fields(item, self._where(name)) for item in self._array(name))

    def _array(self, name: str) -> list[object]:
        value = self._value(name)
        if not isinstance(value, list):
            raise BadInput(f"{self._where(name)} is {shown(value)}, wanted an array")
        return value

    def _value(self, name: str) -> object:
        if name not in self.given:
            raise BadInput(f'{self._place}: "{name}" is missing')
        return self.given[name]

    def _where(self, name: str) -> str:
        return f'{self._place}: "{name}"'


def _number(value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadInput(f"{where} is {shown(value)}, wanted a number")
    if abs(value) > 1e300 or not math.isfinite(value):
        raise BadInput(f"{where} is {shown(value)}, wanted a finite number")
    return float(value)


def _text(value: object, where: str) -> str:
    if not isinstance(value, str):
        raise BadInput(f"{where} is {shown(value)}, wanted text")
    return value


def shown(value: object) -> str:
    """A value as it may stand in a one-line message."""
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > 10**20:
        return "a number of too many digits"
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."

"""Checks on numbers from a person: finite, in range, and one line on what to do if not."""

import math

from sprayout.errors import BadInput


def finite(name: str, value: float, unit: str = "") -> float:
    """``value`` where it is an ordinary number, else ``BadInput`` naming it."""
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = math.nan
    if isinstance(value, bool) or not math.isfinite(number):
        raise BadInput(f"{name}: got {value!r}, wanted a number{_in(unit)}; enter it in figures")
    return number


def above_zero(name: str, value: float, unit: str = "", do: str = "measure or look it up") -> float:
    """``value`` where it is above 0; ``do`` is the next step said in the refusal."""
    number = finite(name, value, unit)
    if number <= 0:
        raise BadInput(f"{name}: got {number:g}, wanted more than 0{_in(unit)}; {do}")
    return number


def not_below_zero(name: str, value: float, unit: str = "", do: str = "check the sign") -> float:
    """``value`` where it is 0 or more."""
    number = finite(name, value, unit)
    if number < 0:
        raise BadInput(f"{name}: got {number:g}, wanted 0 or more{_in(unit)}; {do}")
    return number


def percent(name: str, value: float) -> float:
    """``value`` where it lies between 0 and 100."""
    number = finite(name, value, "%")
    if not 0 <= number <= 100:
        raise BadInput(f"{name}: got {number:g}, wanted 0 to 100 %; check the reading")
    return number


def fraction(name: str, value: float) -> float:
    """``value`` where it lies between 0 and 1."""
    number = finite(name, value)
    if not 0 <= number <= 1:
        raise BadInput(
            f"{name}: got {number:g}, wanted a share from 0 to 1; divide a percentage by 100"
        )
    return number


def mixing_divisor(value: float) -> float:
    """The mixing divisor K >= 1 that divides the flow: Q' = Q/K (ACGIH's convention, 1 to 10).

    Other books multiply the flow by a factor below 1; such a value is refused and explained.
    """
    number = finite("mixing divisor", value)
    if number < 1:
        hint = "start with 3"
        if number > 0:
            hint = f"if your book's factor {number:g} multiplies the flow, enter {1 / number:.3g}"
        raise BadInput(
            f"mixing divisor: got {number:g}, wanted 1 or more, because here it divides the flow "
            f"(1 = perfect mixing, 3 to 10 = poor); {hint}"
        )
    return number


def _in(unit: str) -> str:
    return f" ({unit})" if unit else ""

"""Fields of a JSON request by name: there, of the right sort, and no others."""

from collections.abc import Mapping

from sprayout.errors import BadInput
from sprayout.safety.given import finite


def only(given: Mapping[str, object], known: tuple[str, ...], what: str) -> None:
    """Refuse a field that is not known here."""
    for name in given:
        if name not in known:
            raise BadInput(f"{what}: got {name!r}, wanted {', '.join(known)}; leave it out")


def part(given: Mapping[str, object], name: str) -> Mapping[str, object] | None:
    """A part of the request, ``None`` where it is not given."""
    value = given.get(name)
    if value is None or isinstance(value, Mapping):
        return value
    raise BadInput(f"{name}: got {value!r}, wanted an object or null; write its fields by name")


def number_of(given: Mapping[str, object], name: str, what: str) -> float | None:
    """A number of one part, ``None`` where it is not given."""
    value = given.get(name)
    if value is None:
        return None
    if not isinstance(value, int | float):
        raise BadInput(f"{what} {name}: got {value!r}, wanted a number; enter it in figures")
    return finite(f"{what} {name}", value)


def shares(given: Mapping[str, object], name: str) -> dict[str, float]:
    """An object of names and numbers, empty where it is not given."""
    value = given.get(name)
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        raise BadInput(f"product {name}: got {value!r}, wanted name and number; use an object")
    return {str(key): finite(f"{name} {key}", number) for key, number in value.items()}

"""Names of solvents on labels: known to the film or the exposure tables, or said to be in neither.

A name that no table knows is most often a mistyped one: it is refused with the nearest names.
Only where a person says outright that there is no data on it does it stay, and then nothing is
worked out with it.
"""

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from sprayout.climate import solvents as of_films
from sprayout.errors import BadInput
from sprayout.safety import substances as of_exposure
from sprayout.safety.refusals import in_words


@dataclass(frozen=True, slots=True)
class SolventName:
    """One solvent with its other names, and which of our tables hold it."""

    name: str
    also: tuple[str, ...]
    film: bool
    exposure: bool


def is_known(name: str) -> bool:
    """Whether one of our tables knows a solvent, or the refusals do."""
    return of_films.is_known(name) or of_exposure.known(name) is not None or bool(in_words(name))


def nearest(name: str, count: int = 3) -> list[str]:
    """The known names closest in spelling, best first."""
    known = {spelling.casefold(): spelling for spelling in _spellings()}
    close = difflib.get_close_matches(name.strip().casefold(), list(known), n=count, cutoff=0.5)
    return [known[key] for key in close] or of_films.nearest_names(name, count)


def check_names(given: Iterable[str], no_data: Iterable[str] = (), what: str = "label") -> None:
    """Refuse a solvent that no table knows, unless ``no_data`` says outright that none does."""
    named, said = list(given), list(no_data)
    for name in said:
        if name not in named:
            raise BadInput(
                f"{what} no_data: got {name!r}, which is not among its solvents; give its share too"
            )
        if is_known(name):
            raise BadInput(
                f"{what} no_data: got {name!r}, of which we have data; leave it out of no_data"
            )
    for name in named:
        if name not in said and not is_known(name):
            raise BadInput(
                f"{what}: got solvent {name.strip()!r}, which is in none of our tables; nearest: "
                f"{', '.join(nearest(name))}; name one of these, or list it under no_data (then "
                "nothing with it can be assessed)"
            )


def unknown_in(solvents: Mapping[str, object]) -> tuple[str, ...]:
    """Those of a reducer's solvents for which no film can be worked out."""
    return tuple(name for name in solvents if not of_films.is_known(name))


@cache
def all_names() -> tuple[SolventName, ...]:
    """Every solvent of both tables, by name; particulates and gases are left out."""
    found = [
        SolventName(s.name, s.synonyms, of_films.is_known(s.name) or _any_film(s.synonyms), True)
        for s in of_exposure.all_substances()
        if s.kind == "vapour"
    ]
    for solvent in of_films.all_solvents():
        names = (solvent.name, solvent.cas, *of_films.other_names(solvent))
        if not any(of_exposure.known(name) for name in names):
            found.append(SolventName(solvent.name, of_films.other_names(solvent), True, False))
    return tuple(sorted(found, key=lambda entry: entry.name.casefold()))


def _any_film(names: Iterable[str]) -> bool:
    return any(of_films.is_known(name) for name in names if name)


@cache
def _spellings() -> tuple[str, ...]:
    return tuple(
        name for entry in all_names() for name in (entry.name, *entry.also) if len(name) > 2
    )

"""``sprayout probe-check``: a humidity probe over one or two saturated salts, put on record."""

import json
import random
from pathlib import Path
from typing import Annotated

import typer

from sprayout.acts.spraying import named_person
from sprayout.climate.corrections import is_due, state_words
from sprayout.climate.probe_json import correction_to_json, parse_salt_point, point_words
from sprayout.climate.salts import Correction, SaltPoint, correction
from sprayout.clock import SystemClock
from sprayout.errors import BadInput
from sprayout.journal.probe_corrections import as_correction, on_record
from sprayout.journal.reader import Reader
from sprayout.journal.records import ProbeCheck, new_id
from sprayout.journal.records_json import to_json
from sprayout.journal.store import look_at_store
from sprayout.journal.writer import Writer

Json = dict[str, object]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("probe-check")(probe_check)


def probe_check(
    point: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SALT=READ@T/MINUTES",
            help="Probe over a saturated salt, as NaCl=77.1@21.5/240; once or twice.",
        ),
    ] = None,
    probe: Annotated[str, typer.Option(metavar="NAME", help="Which probe.")] = "probe",
    store: Annotated[
        Path | None, typer.Option(help="Put the check on record in this store, or list them.")
    ] = None,
    bench: Annotated[str | None, typer.Option(help="Which bench, where there are several.")] = None,
    person: Annotated[str | None, typer.Option(help="Who checked it.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """The correction of a humidity probe from what it reads over saturated salts.

    With --store it goes on record and corrects what is derived from now on; without --point the
    checks on record are listed.  A bench that runs takes a check on its page.
    """
    now_ms = SystemClock().now_ms()
    if not point:
        _show(_listed(_opened(store), bench, now_ms), as_json)
        return
    points = [parse_salt_point(text) for text in point]
    person = None if person is None else named_person(person)
    found = correction(probe, points, now_ms)
    shown = correction_to_json(found)
    if store is not None:
        shown = {**to_json(_keep(store, found, bench, person)), "words": found.words()}
    if as_json:
        typer.echo(json.dumps(shown, ensure_ascii=False))
        return
    _say(points, found)
    if store is not None:
        typer.echo(f"on record in {store} for {found.probe}; due again in a year")


def _say(points: list[SaltPoint], found: Correction) -> None:
    for one in points:
        typer.echo(point_words(one))
    typer.echo(f"true %RH = {found.offset_pct:+.2f} + {found.gain:.4f} × reading")
    typer.echo(found.words())


def _opened(store: Path | None) -> Path:
    if store is None:
        raise BadInput(
            "probe-check: got no --point, wanted what the probe reads over a salt, as "
            "NaCl=77.1@21.5/240; or give --store to list the checks on record"
        )
    look_at_store(store)
    return store


def _listed(store: Path, bench: str | None, now_ms: int) -> list[Json]:
    with Reader(store) as reader:
        checks = reader.all(ProbeCheck, bench=bench, newest=True)
    rows: list[Json] = []
    for check in checks:
        found = as_correction(check)
        words = state_words(found, now_ms) + ("; withdrawn" if check.withdrawn_ms else "")
        rows.append({**to_json(check), "words": words, "due": is_due(found, now_ms)})
    return rows


def _show(rows: list[Json], as_json: bool) -> None:
    if as_json:
        typer.echo(json.dumps({"checks": rows}, ensure_ascii=False))
        return
    for row in rows:
        typer.echo(f"{row['bench']}: {row['words']}")
    if not rows:
        typer.echo("no probe was checked over a salt yet")


def _keep(store: Path, found: Correction, bench: str | None, person: str | None) -> ProbeCheck:
    """Put a check on record for a probe that the store has heard of."""
    look_at_store(store)
    with Reader(store) as reader:
        heard = [c for c in reader.channels() if c.channel == "relative_humidity"]
    places = sorted(
        {c.bench for c in heard if c.device == found.probe and bench in (None, c.bench)}
    )
    if len(places) != 1:
        known = ", ".join(sorted({f"{c.device} ({c.bench})" for c in heard})) or "none"
        wanted = "one of the benches" if places else "a probe on record"
        raise BadInput(
            f"probe: got {found.probe!r}, wanted {wanted}: {known}; give --probe and --bench"
        )
    key = new_id("probe", random.SystemRandom())
    kept = on_record(found, key=key, bench=places[0], person=person)
    with Writer(store) as writer:
        writer.submit([kept], urgent=True).result()
    return kept

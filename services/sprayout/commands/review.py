"""``sprayout review`` and ``sprayout report``: what lay behind a finish, and a piece's report."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path
from typing import Annotated, Any

import typer

from sprayout.errors import BadInput, StoreError
from sprayout.journal.reader import Reader
from sprayout.journal.store import look_at_store
from sprayout.review.inquiry import review_coat, review_piece
from sprayout.review.review_json import with_cautions
from sprayout.safety.cautions import cautions_text

Json = dict[str, Any]
Store = Annotated[Path, typer.Option(help="The store to read.")]
Region = Annotated[str, typer.Option(help="us, uk or eu: whose wording of the cautions.")]


def register(app: typer.Typer) -> None:
    """Add ``review`` and ``report`` to the command line."""

    @app.command("review")
    def review_command(
        store: Store,
        coat: Annotated[str | None, typer.Option(help="Id of a coat.")] = None,
        piece: Annotated[str | None, typer.Option(help="Id of a piece.")] = None,
        finding: Annotated[
            str | None, typer.Option(help="A finding by its trade name, entered or not.")
        ] = None,
        region: Region = "us",
        as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    ) -> None:
        """Say what lay behind a finding, from your own record first, then the trade's table."""
        with closing(_opened(store)) as reader:
            answer = _asked(reader, coat, piece, finding)
        if as_json:
            typer.echo(json.dumps(with_cautions(answer, region), ensure_ascii=False))
        else:
            typer.echo("\n".join([*review_lines(answer), "", cautions_text(region)]))

    @app.command("report")
    def report_command(
        store: Store,
        piece: Annotated[str, typer.Option(help="Id of the piece.")],
        out: Annotated[Path, typer.Option(help="FILE.html or FILE.pdf to write.")],
        paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
        region: Region = "us",
        as_json: Annotated[bool, typer.Option("--json", help="What was written.")] = False,
    ) -> None:
        """Write the report of a piece for its object file, to read (HTML) or to print (PDF)."""
        with closing(_opened(store)) as reader:
            content = _report(reader, piece, out, paper, region)
        _write(out, content)
        done = {"file": str(out), "bytes": len(content), "paper": paper}
        typer.echo(json.dumps(done) if as_json else f"{out}: {len(content):,} bytes")


def _opened(store: Path) -> Reader:
    look_at_store(store)
    return Reader(store)


def _asked(reader: Reader, coat: str | None, piece: str | None, finding: str | None) -> Json:
    if (coat is None) == (piece is None):
        got = "neither" if coat is None else "both"
        raise BadInput(f"review: got {got} of --coat and --piece, wanted one of them")
    if coat is not None:
        return review_coat(reader, coat, finding)
    return review_piece(reader, piece or "", finding)


def _report(reader: Reader, piece: str, out: Path, paper: str, region: str) -> bytes:
    from sprayout.review.dossier import read_dossier

    suffix = out.suffix.casefold()
    if suffix not in (".html", ".htm", ".pdf"):
        raise BadInput(f"--out: got {out.name}, wanted a name that ends in .html or .pdf")
    dossier = read_dossier(reader, piece, region)
    if suffix == ".pdf":
        from sprayout.review.report_pdf import report_pdf

        return report_pdf(dossier, paper)
    from sprayout.review.report_html import report_html

    return report_html(dossier, paper).encode()


def _write(out: Path, content: bytes) -> None:
    """Under its name only once it is whole."""
    new = out.with_name(out.name + ".new")
    try:
        new.write_bytes(content)
        new.replace(out)
    except OSError as error:
        new.unlink(missing_ok=True)
        raise StoreError(f"report {out}: cannot be written ({error.strerror})") from error


def review_lines(answer: Json) -> list[str]:
    """The answer for a person."""
    lines = [answer["words"]]
    for ranked in [r for r in answer["ranked"] if r["score"] >= 0.05][:5]:
        lines += ["", f"- {ranked['words']}"]
        lines += [f"    for: {words}" for words in ranked["for"]]
        lines += [f"    against: {words}" for words in ranked["against"]]
        lines += [f"    change: {ranked['change']}", f"    source: {ranked['source']}"]
    if answer["unknown"]:
        lines += ["", *(f"? {unknown['words']}" for unknown in answer["unknown"])]
    if answer["also_different"]:
        lines += ["", "also unlike your good coats:"]
        lines += [f"    {e['words']}" for e in answer["also_different"]]
    if "compared_with" in answer:
        lines += ["", answer["compared_with"]["words"]]
    lines += [f"note: {note}" for note in answer["notes"]]
    for other in answer.get("reviews", []):
        lines += ["", "-----", *review_lines(other)]
    return lines

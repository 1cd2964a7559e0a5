"""Command line and composition root: the only module that puts every room together.

Each command lives in :mod:`sprayout.commands`, one module a subject, and is loaded only when it
is asked for, so that ``sprayout steer`` does not wait for the web server to be imported.
Exit codes: 0 done, 2 bad input (one line on stderr, nothing changed), 1 a failure of ours.
"""

import importlib
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import typer

from sprayout.errors import BadInput, SprayoutError

#: Command name -> module of ``sprayout.commands`` that registers it.
COMMANDS = {
    "demo": "demo",
    "serve": "serve",
    "convert": "convert",
    "steer": "steer",
    "recipe": "recipe",
    "blush": "blush",
    "recoat": "recoat",
    "probe-check": "probe_check",
    "air": "air",
    "import": "import_",
    "export": "export",
    "backup": "backup",
    "restore": "backup",
    "check": "check",
    "rework": "rework",
    "devices": "devices",
    "relay": "relay",
    "board": "board",
    "photograph": "photograph",
    "review": "review",
    "report": "review",
    "settings": "settings",
    "benchmark": "benchmark",
}

HELP = """The paint bench's instrument and logbook: colour match, booth air, coats, and why a finish
failed. Every figure on spraying is an estimate: the product's safety data sheet, local code and a
licensed professional come before it."""


def build_app(names: Sequence[str] = tuple(COMMANDS)) -> typer.Typer:
    """Return the application with the named commands registered."""
    app = typer.Typer(help=HELP, no_args_is_help=True, add_completion=False)
    app.callback()(_together)
    for module in dict.fromkeys(COMMANDS[name] for name in names):
        importlib.import_module(f"sprayout.commands.{module}").register(app)
    return app


def _together() -> None:
    """Keep sub-commands named even when only one of them is loaded."""


_together.__doc__ = HELP


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with the code of the contract."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    asked = [word for word in words[:1] if word in COMMANDS]
    with _asked_to_end():
        code = _run(words, asked or list(COMMANDS))
    sys.exit(code)


@contextmanager
def _asked_to_end() -> Iterator[None]:
    """SIGTERM unwinds as Ctrl-C does, from before the long imports on."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _run(words: list[str], names: Sequence[str]) -> int:
    try:
        outcome = build_app(names)(args=words, prog_name="sprayout", standalone_mode=False)
    except BadInput as error:
        return _say(error, 2)
    except (typer.Abort, KeyboardInterrupt):
        return 130
    except typer.TyperException as error:
        return _say(
            f"{error.format_message().rstrip('.')}; see `sprayout {' '.join(words[:1])} --help`", 2
        )
    except BrokenPipeError:
        # The reader of our output went away (`sprayout export | head`); nothing is left to say.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except SprayoutError as error:
        return _say(error, 1)
    except Exception as error:
        if "SPRAYOUT_TRACEBACK" in os.environ:
            raise
        return _say(
            f"a fault of ours: {type(error).__name__}: {error}; set SPRAYOUT_TRACEBACK=1, run it "
            "again and report what it prints",
            1,
        )
    return outcome if isinstance(outcome, int) else 0


def _say(message: object, code: int) -> int:
    print("sprayout: " + " ".join(str(message).split()), file=sys.stderr)
    return code

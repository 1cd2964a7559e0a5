"""Where the page's files and the board's program are: the checkout's folder, else the wheel's copy.

An editable install copies force-included files once, so edits to the page would not show; the
checkout's own folder is therefore preferred wherever there is one.
"""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def dashboard_folder() -> Path:
    """Return the folder with the page's templates and static files."""
    return _prefer(_PACKAGE.parent.parent / "dashboard", _PACKAGE / "_dashboard")


def board_folder() -> Path:
    """Return the folder with the board's MicroPython program."""
    return _prefer(_PACKAGE.parent.parent / "firmware_host" / "board", _PACKAGE / "_board")


def _prefer(checkout: Path, wheel: Path) -> Path:
    is_checkout = (checkout.parent / "pyproject.toml").exists() or (
        checkout.parent.parent / "pyproject.toml"
    ).exists()
    return checkout if is_checkout and checkout.is_dir() else wheel

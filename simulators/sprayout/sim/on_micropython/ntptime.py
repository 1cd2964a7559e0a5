"""Stands in for MicroPython's ``ntptime``: the computer knows the time."""

host = ""
timeout = 1


def settime() -> None:
    """Nothing to set."""

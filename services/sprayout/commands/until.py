"""Waiting for the end of a command that runs until it is told to stop."""

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stop_signals() -> Iterator[threading.Event]:
    """An event that Ctrl-C or a polite kill sets, as long as the block lasts."""
    stopped = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield stopped  # only the main thread may take signals
        return

    def stop(number: int, frame: FrameType | None) -> None:
        stopped.set()

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stopped
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)

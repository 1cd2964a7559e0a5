"""A clock that moves only when told: what tests and fast runs hand to the simulators."""


class SteppedClock:
    """Calling it gives the seconds; ``advance`` moves it on."""

    def __init__(self, now_s: float = 0.0) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s

    def advance(self, seconds: float) -> None:
        if seconds < 0:
            raise ValueError(f"clock: cannot go back by {-seconds} s")
        self.now_s += seconds

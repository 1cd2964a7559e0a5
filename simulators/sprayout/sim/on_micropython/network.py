"""Stands in for MicroPython's ``network``: the computer's own network is always there."""

STA_IF = 0


class WLAN:
    def __init__(self, interface: int) -> None:
        self._joined = False

    def active(self, wanted: bool) -> None:
        """The radio is always on."""

    def connect(self, name: str, password: str) -> None:
        self._joined = True

    def isconnected(self) -> bool:
        return self._joined

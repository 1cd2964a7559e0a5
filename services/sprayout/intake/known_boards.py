"""Which board is on which port: two boards with one name are told apart by being refused."""

from __future__ import annotations

import threading

from sprayout.errors import BoardFault


class KnownBoards:
    """Names in use, shared by all serial intakes of one run."""

    def __init__(self) -> None:
        self._ports: dict[str, str] = {}
        self._lock = threading.Lock()

    def claim(self, device: str, port: str) -> None:
        """Take the name for this port; :class:`BoardFault` if another port has it."""
        with self._lock:
            holder = self._ports.setdefault(device, port)
        if holder != port:
            raise BoardFault(
                f"two boards call themselves {device}, on {holder} and {port}; "
                f"the one on {port} is not read: give it another name and plug it in again"
            )

    def release(self, device: str, port: str) -> None:
        """Give the name back when the port goes away."""
        with self._lock:
            if self._ports.get(device) == port:
                del self._ports[device]

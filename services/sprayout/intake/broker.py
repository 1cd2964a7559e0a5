"""Where the broker is and how to speak to it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from urllib.parse import unquote, urlsplit

from sprayout.errors import BadInput

PLAIN_PORT, TLS_PORT = 1883, 8883
Version = Literal["3.1.1", "5"]


@dataclass(frozen=True, slots=True)
class Broker:
    """One MQTT broker; ``ca_file`` is for a certificate the system does not know."""

    host: str
    port: int = PLAIN_PORT
    tls: bool = False
    user: str | None = None
    password: str | None = None
    ca_file: Path | None = None
    version: Version = "3.1.1"

    def __str__(self) -> str:
        """Host and port, never the password."""
        return f"{self.host}:{self.port}"


def parse_broker_url(
    url: str,
    *,
    user: str | None = None,
    password: str | None = None,
    ca_file: Path | None = None,
    version: str = "3.1.1",
) -> Broker:
    """``mqtt://[user[:password]@]host[:port]``, or ``mqtts://`` for TLS."""
    parts = urlsplit(url if "//" in url else f"mqtt://{url}")
    if parts.scheme not in ("mqtt", "mqtts") or not parts.hostname or parts.path.strip("/"):
        raise BadInput(f"broker: wanted mqtt://host:port or mqtts://host:port, got {_hidden(url)}")
    if version not in ("3.1.1", "5"):
        raise BadInput(f"broker: MQTT version is {version!r}, wanted 3.1.1 or 5")
    if ca_file is not None and not ca_file.is_file():
        raise BadInput(f"broker: certificate file {ca_file} is not there")
    tls = parts.scheme == "mqtts"
    return Broker(
        host=parts.hostname,
        port=_port(parts.netloc, tls),
        tls=tls,
        user=user if parts.username is None else unquote(parts.username),
        password=password if parts.password is None else unquote(parts.password),
        ca_file=ca_file,
        version="5" if version == "5" else "3.1.1",
    )


def _port(netloc: str, tls: bool) -> int:
    try:
        port = urlsplit(f"//{netloc}").port
    except ValueError:
        raise BadInput("broker: the port is no number from 1 to 65535") from None
    return port or (TLS_PORT if tls else PLAIN_PORT)


def _hidden(url: str) -> str:
    """The address without user and password."""
    return url.rpartition("@")[2]

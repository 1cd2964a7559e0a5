"""The broker of a command line: its address from an option, the rest from the settings."""

from pathlib import Path

from sprayout.intake.broker import Broker, parse_broker_url
from sprayout.settings import Settings


def broker_of(url: str, settings: Settings) -> Broker:
    """The broker at ``url``, with user, password, certificate and version of the settings."""
    ca_file = settings.text("mqtt_ca_file")
    return parse_broker_url(
        url,
        user=settings.text("mqtt_user") or None,
        password=settings.text("mqtt_password") or None,
        ca_file=Path(ca_file) if ca_file else None,
        version=settings.text("mqtt_version"),
    )

"""The names on the broker: ``sprayout/<bench>/<device>/senml`` and ``…/status``."""

from __future__ import annotations

from sprayout.errors import BadInput

ROOT = "sprayout"
ONLINE, OFFLINE = "online", "offline"
SENML_FILTER = f"{ROOT}/+/+/senml"
STATUS_FILTER = f"{ROOT}/+/+/status"


def senml_topic(bench: str, device: str) -> str:
    """Where a device's packs go."""
    return f"{ROOT}/{check_level(bench, 'bench')}/{check_level(device, 'device')}/senml"


def status_topic(bench: str, device: str) -> str:
    """Where it stands, retained, whether a device is there."""
    return f"{ROOT}/{check_level(bench, 'bench')}/{check_level(device, 'device')}/status"


def own_device(topic: str) -> tuple[str, str, str] | None:
    """Bench, device and kind of one of our topics; None for any other."""
    levels = topic.split("/")
    if len(levels) != 4 or levels[0] != ROOT or levels[3] not in ("senml", "status"):
        return None
    return levels[1], levels[2], levels[3]


def check_filter(topic_filter: str) -> None:
    """:class:`BadInput` where a topic filter breaks the rules of MQTT (3.1.1, section 4.7)."""
    levels = topic_filter.split("/")
    misplaced_hash = any("#" in level for level in levels[:-1]) or (
        "#" in levels[-1] and levels[-1] != "#"
    )
    if not topic_filter or misplaced_hash or any("+" in part and part != "+" for part in levels):
        raise BadInput(
            f"topic filter {topic_filter!r}: wanted levels with + for one level and # at the end"
        )


def check_level(name: str, what: str) -> str:
    """The name, where it can stand as one level of a topic; else :class:`BadInput`."""
    if not name or any(mark in name for mark in "/+#\0"):
        raise BadInput(f"{what} {name!r}: wanted a name without / + # to stand in a topic")
    return name

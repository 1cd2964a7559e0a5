"""A booth on record as the safety room takes it: its own fields, and the room around it."""

from collections.abc import Mapping
from typing import Literal, cast

from sprayout.errors import BadInput
from sprayout.journal.records import Booth
from sprayout.safety.asks import question_on
from sprayout.safety.assess_json import parse_room
from sprayout.safety.booth import Booth as SetUp
from sprayout.safety.booth_request import parse_booth
from sprayout.safety.breathing import Room
from sprayout.safety.given import above_zero, not_below_zero

Fields = dict[str, object]
Exhaust = Literal["ducted", "recirculating"]

OF_THE_BOOTH = (
    "width_m", "height_m", "volume_m3", "flow_m3h", "face_m_s", "rating_m3h", "rating_share",
    "filter_loading", "crossdraft_m_s",
)  # fmt: skip
#: Field on record -> where it stands in a request for an assessment.
PLACES = {
    **{name: f"booth.{name}" for name in OF_THE_BOOTH},
    "room_volume_m3": "room.volume_m3",
    "room_air_changes_h": "room.fresh_air_m3h",
    "mixing_divisor": "room.mixing_divisor",
}
Usual = Mapping[str, float]
"""The room by the settings: ``volume_m3`` (0 where not known), ``fresh_air_m3h``, ``divisor``."""


def exhaust_of(booth: Booth) -> Exhaust | None:
    """Where its air goes; old records say it in their note."""
    if booth.exhaust is None and booth.note.strip().lower() in ("ducted", "recirculating"):
        return cast(Exhaust, booth.note.strip().lower())
    return booth.exhaust


def booth_fields(booth: Booth) -> Fields:
    """The booth as ``safety.booth_request.parse_booth`` takes it; what is not known is left out."""
    known = {name: getattr(booth, name) for name in OF_THE_BOOTH}
    fan = dict(booth.fan) or None
    given: Fields = {**known, "exhaust": exhaust_of(booth), "fan": fan}
    return {name: value for name, value in given.items() if value is not None}


def room_fields(booth: Booth | None, usual: Usual) -> Fields | None:
    """The room: as entered with the booth, else as in the settings; ``None`` without a volume."""
    volume_m3 = (booth.room_volume_m3 if booth else None) or usual["volume_m3"]
    if volume_m3 == 0.0:
        return None
    fresh_m3h = usual["fresh_air_m3h"]
    if booth is not None and booth.room_air_changes_h is not None:
        fresh_m3h = booth.room_air_changes_h * volume_m3
    divisor = (booth.mixing_divisor if booth else None) or usual["divisor"]
    return {"volume_m3": volume_m3, "fresh_air_m3h": fresh_m3h, "mixing_divisor": divisor}


def set_up(booth: Booth | None) -> SetUp | None:
    """The booth for the safety room; raises ``BadInput`` for what cannot be."""
    return None if booth is None else parse_booth(booth_fields(booth))


def room_of(booth: Booth | None, usual: Usual) -> Room | None:
    """The room for the safety room; raises ``BadInput`` for what cannot be."""
    fields = room_fields(booth, usual)
    return None if fields is None else parse_room(fields)


def check(booth: Booth, usual: Usual) -> None:
    """Refuse a set-up that cannot be, or one whose unit looks wrong and was not confirmed."""
    for name in booth.confirmed:
        if name not in PLACES:
            raise BadInput(
                f"booth confirmed: got {name!r}, wanted fields of the booth; leave it out"
            )
    if booth.flow_m3h is not None:
        above_zero("booth flow_m3h", booth.flow_m3h, "m³/h")
    if booth.room_air_changes_h is not None:
        not_below_zero("booth room_air_changes_h", booth.room_air_changes_h, "1/h")
        if room_fields(booth, usual) is None:
            raise BadInput(
                "booth room_air_changes_h: got a figure without a room, wanted room_volume_m3 too; "
                "measure the room"
            )
    set_up(booth)
    room_of(booth, {**usual, "volume_m3": usual["volume_m3"] or 1.0})
    for name in PLACES:
        value = getattr(booth, name)
        if value is None or name in booth.confirmed:
            continue
        question = question_on(name, value)
        if question:
            raise BadInput(
                f'booth {question} If it is right, send it again with confirmed: ["{name}"]'
            )


def confirmed(booth: Booth | None) -> list[str]:
    """Where the confirmed fields stand in a request."""
    return [PLACES[name] for name in booth.confirmed if name in PLACES] if booth else []

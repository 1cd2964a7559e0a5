"""The booth on record for the page: its fields, and the flow that they come to."""

from sprayout.bench.booth_on_record import exhaust_of, set_up
from sprayout.errors import BadInput
from sprayout.journal.records import Booth
from sprayout.journal.records_json import to_json
from sprayout.safety.booth import judge_booth_face, judge_exhaust

Json = dict[str, object]


def booth_json(booth: Booth | None) -> Json:
    """``{"booth", "delivered_m3h", "flow_basis", "face_m_s", "words"}``; null is not known."""
    unknown: Json = {"delivered_m3h": None, "flow_basis": None, "face_m_s": None}
    if booth is None:
        return {"booth": None, **unknown, "words": "No booth is entered: its air is not known."}
    record = {**to_json(booth), "exhaust": exhaust_of(booth)}
    try:
        known = set_up(booth)
    except BadInput as error:  # an import may bring what no form lets through
        return {"booth": record, **unknown, "words": f"The booth on record cannot be used: {error}"}
    if known is None:
        return {"booth": record, **unknown, "words": "Of the booth only its name is entered."}
    face = known.face_velocity_m_s
    words = f"{judge_booth_face(known).words} {judge_exhaust(known.exhaust).words}"
    return {
        "booth": record,
        "delivered_m3h": None if known.flow_m3h is None else round(known.flow_m3h, 1),
        "flow_basis": None if known.flow_m3h is None else known.flow_basis,
        "face_m_s": None if face is None else round(face, 3),
        "words": words,
    }

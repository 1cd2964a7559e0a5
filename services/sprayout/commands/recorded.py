"""What an evening of the demo left on record, for its closing JSON."""

from pathlib import Path
from typing import TYPE_CHECKING

from sprayout.journal.reader import CoatOnRecord, Reader
from sprayout.journal.records import Batch, Calibration, Flag, Swatch, Target
from sprayout.journal.records_json import format_time, to_json
from sprayout.safety import cautions

if TYPE_CHECKING:
    from sprayout.commands.operator import Operator


def recorded(store: Path, operator: "Operator", address: str) -> dict[str, object]:
    """Read the store back and say what stands in it."""
    reader = Reader(store)
    try:
        coats = reader.coats()
        flags = reader.all(Flag)
        return {
            "address": address,
            "acts_played": operator.done,
            "acts_planned": len(operator.acts),
            "refused": operator.failures,
            "channels": [
                {"device": c.device, "channel": c.channel, "unit": c.unit}
                for c in reader.channels()
            ],
            "calibrations": len(reader.all(Calibration)),
            "targets": [_target(target) for target in reader.all(Target)],
            "batches": len(reader.all(Batch)),
            "swatches": [_swatch(s) for s in reversed(reader.swatches())],
            "coats": [_coat(entry) for entry in reversed(coats)],
            "flags": [to_json(flag) for flag in flags],
            "cautions": [caution.words for caution in cautions.for_spraying()],
        }
    finally:
        reader.close()


def _target(target: Target) -> dict[str, object]:
    return {"name": target.name, "lab": [round(v, 2) for v in target.lab], "white": target.white}


def _swatch(swatch: Swatch) -> dict[str, object]:
    lab = None if swatch.lab is None else [round(v, 2) for v in swatch.lab]
    de00 = None if swatch.de00 is None else round(swatch.de00, 2)
    return {"at": format_time(swatch.at_ms), "lab": lab, "de00": de00}


def _coat(entry: CoatOnRecord) -> dict[str, object]:
    conditions = entry.conditions
    dew = conditions.channel("dew_point") if conditions else None
    return {
        **to_json(entry.coat),
        "piece_name": entry.piece.name,
        "dew_point_c": None if dew is None or dew.mean is None else round(dew.mean, 2),
        "conditions": to_json(conditions) if conditions else None,
    }

"""The coat to be sprayed, assessed as a whole from what is on record: cup, booth, fan, room.

Nothing is filled in by guess.  What nobody has entered goes into the assessment as missing, and
comes out as *cannot assess*.
"""

from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching
from sprayout.acts.shelf import Shelf
from sprayout.acts.ventilating import Ventilating
from sprayout.journal.records import BatchAddition
from sprayout.safety.assess_json import answer_assess
from sprayout.safety.interlock import FanState
from sprayout.safety.refusals import Refusal, in_words

LABEL_FIELDS = ("solvents", "two_part", "label", "pigments", "solids_g_ml")
Fields = dict[str, object]


class Exposing:
    """What would be breathed, as far as the record tells."""

    def __init__(
        self, bench: Bench, matching: Matching, shelf: Shelf, ventilating: Ventilating
    ) -> None:
        self._bench = bench
        self._matching = matching
        self._shelf = shelf
        self._ventilating = ventilating

    def assess(
        self, sprayed_ml: float, minutes: float, coats: int, fan: FanState
    ) -> dict[str, object]:
        """Return the assessment of spraying so much of the cup in hand in so many minutes."""
        request: Fields = {
            "product": self._product(),
            "coat": {"sprayed_ml": sprayed_ml, "minutes": minutes, "coats": coats},
            "booth": self._booth(),
            "room": self._room(),
            "region": self._bench.settings.text("region"),
        }
        return answer_assess({k: v for k, v in request.items() if v is not None}, fan)

    def _product(self) -> Fields | None:
        batch = self._matching.batch
        bottles = [self._bottle(a) for a in self._matching.additions if a.poured]
        if batch is None or not bottles:
            return None
        return {"name": batch.name, "bottles": bottles}

    def _bottle(self, addition: BatchAddition) -> Fields:
        if addition.reducer is not None:
            name = self._shelf.name_of(addition.reducer)
            solvents = self._shelf.reducers[name].solvents if name in self._shelf.reducers else {}
            whole = sum(float(str(share)) for share in solvents.values()) or 1.0
            shares = {k: float(str(share)) / whole for k, share in solvents.items()}
            return {"name": name, "ml": addition.ml, "solvents": shares, "two_part": False}
        name = self._shelf.name_of(addition.paint or "")
        details = self._shelf.paints[name].details if name in self._shelf.paints else {}
        batch = self._matching.batch
        stated = {field: details[field] for field in LABEL_FIELDS if details.get(field) is not None}
        ml = self._shelf.ml_of(addition, batch.drop_ml if batch else None)
        return {"name": name, "ml": ml, **stated}

    def _booth(self) -> Fields | None:
        booth = self._ventilating.booth
        if booth is None:
            return None
        return {
            "width_m": booth.width_m,
            "height_m": booth.height_m,
            "volume_m3": booth.volume_m3,
            "flow_m3h": booth.flow_m3h,
            "exhaust": booth.note if booth.note in ("ducted", "recirculating") else None,
        }

    def _room(self) -> Fields | None:
        settings = self._bench.settings
        volume_m3 = settings.number("room_volume_m3")
        if volume_m3 == 0.0:
            return None
        return {
            "volume_m3": volume_m3,
            "fresh_air_m3h": settings.number("room_fresh_air_m3h"),
            "mixing_divisor": settings.number("mixing_divisor"),
        }

    def refusals(self) -> tuple[Refusal, ...]:
        """Return what in the cup's names and labels only professionals should spray."""
        words: list[str] = []
        for addition in self._matching.additions:
            if addition.paint and addition.poured:
                name = self._shelf.name_of(addition.paint)
                details = self._shelf.paints[name].details if name in self._shelf.paints else {}
                words += [name, str(details.get("label") or "")]
                pigments = details.get("pigments")
                words += [str(p) for p in pigments] if isinstance(pigments, list) else []
        return in_words(*words)

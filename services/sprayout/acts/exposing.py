"""The coat to be sprayed, assessed as a whole from what is on record: cup, booth, fan, room.

Nothing is filled in by guess.  What nobody has entered goes into the assessment as missing, and
comes out as *cannot assess*.
"""

from sprayout.acts.bench import Bench
from sprayout.acts.matching import Matching
from sprayout.acts.shelf import Shelf
from sprayout.acts.ventilating import Ventilating
from sprayout.bench import booth_on_record as booths
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
        self,
        sprayed_ml: float | None,
        minutes: float | None,
        coats: int,
        fan: FanState,
        rh_pct: float | None = None,
        sanding: Fields | None = None,
    ) -> dict[str, object]:
        """Return the assessment of spraying so much of the cup in hand in so many minutes.

        ``sanding`` asks for the old coat below too (see ``safety.assess_json``).
        """
        booth = self._ventilating.booth
        request: Fields = {
            "product": self._product(),
            "coat": {"sprayed_ml": sprayed_ml, "minutes": minutes, "coats": coats},
            "booth": None if booth is None else booths.booth_fields(booth),
            "room": booths.room_fields(booth, self._ventilating.usual_room()),
            "region": self._bench.settings.text("region"),
            "confirmed": booths.confirmed(booth),
            "sanding": sanding,
        }
        given = {k: v for k, v in request.items() if v is not None}
        return answer_assess(given, fan, rh_pct, self._ventilating.log())

    def _product(self) -> Fields | None:
        batch = self._matching.batch
        bottles = [self._bottle(a) for a in self._matching.additions if a.poured]
        if batch is None or not bottles:
            return None
        return {"name": batch.name, "bottles": bottles, **self._sheet()}

    def _sheet(self) -> Fields:
        """Limits read off the paints' own data sheets; of two for one solvent the lower."""
        limits: dict[str, float] = {}
        dust: list[float] = []
        for addition in self._matching.additions:
            if not addition.poured:
                continue
            name = self._shelf.name_of(addition.paint or "")
            details = self._shelf.paints[name].details if name in self._shelf.paints else {}
            stated = details.get("data_sheet_limits_ppm")
            for solvent, ppm in stated.items() if isinstance(stated, dict) else ():
                limits[solvent] = min(float(ppm), limits.get(solvent, float(ppm)))
            if isinstance(mg_m3 := details.get("dust_limit_mg_m3"), int | float):
                dust.append(float(mg_m3))
        sheet: Fields = {"data_sheet_limits_ppm": limits} if limits else {}
        return {**sheet, "dust_limit_mg_m3": min(dust)} if dust else sheet

    def _bottle(self, addition: BatchAddition) -> Fields:
        if addition.reducer is not None:
            name = self._shelf.name_of(addition.reducer)
            solvents = self._shelf.reducers[name].solvents if name in self._shelf.reducers else {}
            whole = sum(float(str(share)) for share in solvents.values()) or 1.0
            shares = {k: float(str(share)) / whole for k, share in solvents.items()}
            # A thinner leaves nothing behind.
            known: Fields = {"solvents": shares, "two_part": False, "solids_g_ml": 0.0}
            return {"name": name, "ml": addition.ml, **known}
        name = self._shelf.name_of(addition.paint or "")
        details = self._shelf.paints[name].details if name in self._shelf.paints else {}
        batch = self._matching.batch
        stated = {field: details[field] for field in LABEL_FIELDS if details.get(field) is not None}
        ml = self._shelf.ml_of(addition, batch.drop_ml if batch else None)
        return {"name": name, "ml": ml, **stated}

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

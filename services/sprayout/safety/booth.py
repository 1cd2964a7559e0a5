"""The booth: its face velocity against what workplace rules ask, and where its air goes."""

from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from sprayout.safety.assessment import Finding, Level, Row, RowLimit
from sprayout.safety.given import above_zero, finite, not_below_zero
from sprayout.safety.tables import rows, source, sources

FPM_M_S = 0.00508
"""One foot per minute in m/s, exactly."""

Exhaust = Literal["ducted", "recirculating"]
FlowBasis = Literal["measured", "face", "fan curve", "rating"]
FIRE_RULE_FPM = 100.0
"""1910.107(b)(5)(i) and International Mechanical Code 502.7.3.3: mean over the open face."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What one row of a rule asks of the air at the face, in m/s (``high`` may be open)."""

    rule: str
    condition: str
    low_m_s: float
    high_m_s: float | None
    design_m_s: float | None


@dataclass(frozen=True, slots=True)
class Booth:
    """One spray booth.  ``None`` is not known, and is judged so.

    ``flow_m3h`` is delivered air and ``flow_basis`` how it is known: measured, from the speed
    ``face_m_s`` measured over the face, from the fan's curve with its filter, or a rating cut
    down.  ``exhaust`` says whether it leaves the house; ``crossdraft_m_s`` is stray air.
    """

    width_m: float | None = None
    height_m: float | None = None
    volume_m3: float | None = None
    flow_m3h: float | None = None
    exhaust: Exhaust | None = None
    crossdraft_m_s: float | None = None
    flow_basis: FlowBasis = "measured"
    face_m_s: float | None = None

    @property
    def face_velocity_m_s(self) -> float | None:
        """Mean speed over the open face: measured, else from flow and size."""
        if self.face_m_s is not None:
            return self.face_m_s
        if self.flow_m3h is None or self.width_m is None or self.height_m is None:
            return None
        return face_velocity_m_s(self.flow_m3h, self.width_m, self.height_m)


def face_velocity_m_s(flow_m3h: float, width_m: float, height_m: float) -> float:
    """v = Q/A, the mean over the open face."""
    face = above_zero("width", width_m, "m") * above_zero("height", height_m, "m")
    return not_below_zero("flow", flow_m3h, "m³/h") / 3600.0 / face


def flow_from_face_m3h(velocity_m_s: float, width_m: float, height_m: float) -> float:
    """Q = v A from a velocity measured over the face (mean of several points)."""
    face = above_zero("width", width_m, "m") * above_zero("height", height_m, "m")
    return not_below_zero("face velocity", velocity_m_s, "m/s") * face * 3600.0


@cache
def asked_of_air_guns(booth: str = "small") -> tuple[Asked, ...]:
    """What US workplace rules ask for an air-operated gun, object inside the booth.

    OSHA Table G-10 by crossdraft, and the fire rule of 100 fpm.  Running inside a row's range is
    what that rule asks; none of them speaks of exposure limits.
    """
    table = (r for r in rows("booth_velocities") if r["operation"] == "air gun")
    g10 = tuple(
        Asked(
            "29 CFR 1910.94(c) Table G-10",
            f"air-operated gun, {booth} booth, crossdraft up to {row['crossdraft_to_fpm']} fpm",
            float(row["low_fpm"]) * FPM_M_S,
            float(row["high_fpm"]) * FPM_M_S,
            float(row["design_fpm"]) * FPM_M_S,
        )
        for row in table
        if row["booth"] == booth
    )
    fire = Asked(
        "29 CFR 1910.107(b)(5)(i) and International Mechanical Code 502.7.3.3",
        "mean over the open face of a dry-filter booth (a fire rule)",
        FIRE_RULE_FPM * FPM_M_S,
        None,
        None,
    )
    return (*g10, fire)


def judge_face(velocity_m_s: float | None, crossdraft_m_s: float | None = None) -> Finding:
    """The face velocity beside what workplace rules ask of an air gun in a small booth.

    Without a crossdraft both rows have to hold; without a velocity nothing is judged.
    """
    found = sources(("osha_94c", "osha_107", "imc_502"))
    if velocity_m_s is None:
        words = (
            "Face velocity not known: measure it at several points of the face, filter in place."
        )
        rows_ = (Row("m_s", "face velocity", None, "m/s"),)
        return Finding(
            "face_velocity",
            Level.CANNOT_ASSESS,
            words,
            found,
            rows_,
            (),
            _MEASURE,
        )
    speed = not_below_zero("face velocity", velocity_m_s, "m/s")
    wanted = _rows_for(crossdraft_m_s)
    level, words = _face_words(speed, wanted)
    return Finding(
        "face_velocity",
        level,
        words,
        found,
        (
            Row("m_s", "face velocity", speed, "m/s", _face_limit(wanted)),
            Row("fpm", "face velocity", speed / FPM_M_S, "ft/min"),
        ),
        _FACE_ASSUMES if crossdraft_m_s is not None else (*_FACE_ASSUMES, _NO_CROSSDRAFT),
        () if level is Level.NOTHING_FOUND else _MORE_AIR,
    )


_MEASURE = ("measure the air speed at nine points of the open face with the filter in place",)
_MORE_AIR = (
    "change the filter and measure again",
    "make the open face smaller, with panels at the sides",
    "still the draughts of the room: doors, heaters, other fans",
)
_FACE_ASSUMES = (
    "the object stands inside the booth",
    "workplace rules, a yardstick at home; they say nothing about what is breathed",
)
_NO_CROSSDRAFT = "crossdraft is not known: both rows of Table G-10 have to hold"


def _face_limit(wanted: tuple[Asked, ...]) -> RowLimit:
    """The least that all rules together ask."""
    fire_m_s = FIRE_RULE_FPM * FPM_M_S
    low = max((fire_m_s, *(row.low_m_s for row in wanted)))
    words = f"at least {low:.2f} m/s asked of an air gun in a small booth"
    return RowLimit(low, "m/s", words, source("osha_94c" if wanted else "osha_107"), at_least=True)


def judge_booth_face(booth: Booth) -> Finding:
    """``judge_face`` of a booth, and a caution at least where its flow was not measured."""
    speed = booth.face_velocity_m_s
    finding = judge_face(speed, booth.crossdraft_m_s)
    if speed is None or booth.flow_basis in ("measured", "face"):
        return finding
    level = max(finding.level, Level.CAUTION, key=lambda entry: entry.rank)
    words = f"{finding.words} The flow is from the fan's {_BASIS[booth.flow_basis]}: measure it."
    return replace(finding, level=level, words=words, would_help=(*_MEASURE, *finding.would_help))


_BASIS = {"fan curve": "curve", "rating": "rating, cut down; a rating is not delivered flow"}


def judge_exhaust(exhaust: Exhaust | None) -> Finding:
    """Where the booth's air goes; a filter takes out mist, not vapour."""
    found = sources(("osha_107",))
    if exhaust == "ducted":
        words = "Ducted outdoors: fresh air of the same volume has to come in from elsewhere."
        return Finding("exhaust", Level.NOTHING_FOUND, words, found)
    if exhaust == "recirculating":
        words = (
            "Recirculating: the filter holds back mist, not solvent vapour; all of the vapour "
            "stays in the room. US fire rules do not let such air go round again."
        )
        help_ = ("duct it outdoors", "spray outdoors, away from windows and other people")
        return Finding("exhaust", Level.STOP, words, found, would_help=help_)
    words = "Not known whether the booth blows outdoors or back into the room: say which."
    follow = ("follow the duct: where does the air leave, and is the outlet away from windows",)
    return Finding("exhaust", Level.CANNOT_ASSESS, words, found, would_help=follow)


def _rows_for(crossdraft_m_s: float | None) -> tuple[Asked, ...]:
    quiet, stray, _ = asked_of_air_guns()
    if crossdraft_m_s is None:
        return (quiet, stray)
    fpm = not_below_zero("crossdraft", finite("crossdraft", crossdraft_m_s)) / FPM_M_S
    if fpm <= 50:
        return (quiet,)
    return (stray,) if fpm <= 100 else ()


def _face_words(speed: float, wanted: tuple[Asked, ...]) -> tuple[Level, str]:
    said = f"Face velocity {speed:.2f} m/s ({speed / FPM_M_S:.0f} fpm)"
    if not wanted:
        return Level.STOP, f"{said}: crossdraft over 100 fpm; workplace rules do not permit it."
    low = max(row.low_m_s for row in wanted)
    high = min(row.high_m_s or speed for row in wanted)
    asked = f"US workplace rules ask {low:.2f} to {high:.2f} m/s for an air gun in a small booth"
    if len(wanted) > 1:
        asked += " (crossdraft not known, both rows of Table G-10)"
    if speed < FIRE_RULE_FPM * FPM_M_S:
        return Level.STOP, f"{said}: {asked}, and fire rules at least 0.51. This is under both."
    if speed < low:
        return Level.CAUTION, f"{said}: {asked}. This is under it."
    if speed > high:
        return Level.CAUTION, f"{said}: {asked}. This is over it; mist dries before it lands."
    return Level.NOTHING_FOUND, f"{said}: {asked}. This is within it, which is no approval."

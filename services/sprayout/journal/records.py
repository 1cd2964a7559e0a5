"""What the journal keeps: one frozen value per thing that happened at a bench.

Times are integer milliseconds UTC (``*_ms``), volumes mL, lengths as named.  Every record names its
``bench``; all but :class:`Reading` and :class:`Conditions` have an ``id`` given by the caller.  The
field names are the column names of the store (docs/journal.md); ``journal.records_json`` holds
the JSON form.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Literal

White = Literal["d65-10", "d50-2"]
Level = Literal["note", "unknown", "caution", "stop"]
Exhaust = Literal["ducted", "recirculating"]
Lab = tuple[float, float, float]
Json = dict[str, object]

LEVELS: tuple[Level, ...] = ("note", "unknown", "caution", "stop")


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one channel at one time; ``value`` is in ``unit`` (SenML names, RFC 8428)."""

    bench: str
    device: str
    channel: str
    value: float
    unit: str
    at_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """The object being painted; ``surface`` is what an infrared thermometer sees of it."""

    id: str
    bench: str
    name: str
    made_ms: int
    metal: str | None = None
    metal_mm: float | None = None
    note: str = ""
    surface: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a piece with a target and coats of its own."""

    id: str
    bench: str
    piece: str
    name: str
    target: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The colour to reach; ``lab`` for ``white``, ``tolerance_de00`` in CIEDE2000.

    ``origin`` says where it comes from (measured, typed, munsell, photographs); ``variant_of`` is
    the model whose shades stand side by side;
    ``photos`` are the pictures it was picked in.
    """

    id: str
    bench: str
    name: str
    lab: Lab
    white: White
    tolerance_de00: float
    made_ms: int
    swatch: str | None = None
    wavelength_nm: tuple[float, ...] = ()
    reflectance: tuple[float, ...] = ()
    note: str = ""
    origin: str = ""
    u95_de00: float | None = None
    variant_of: str = ""
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Swatch:
    """A colour measured on a surface: raw counts kept beside all that was derived from them."""

    id: str
    bench: str
    device: str
    at_ms: int
    channels: tuple[str, ...]
    counts: tuple[float, ...]
    white: White
    lab: Lab | None = None
    u95_de00: float | None = None
    clipped: tuple[str, ...] = ()
    wavelength_nm: tuple[float, ...] = ()
    reflectance: tuple[float, ...] = ()
    calibration: str | None = None
    formula: str = ""
    target: str | None = None
    batch: str | None = None
    piece: str | None = None
    part: str | None = None
    coat: str | None = None
    de00: float | None = None
    note: str = ""
    ambient: tuple[float, ...] = ()
    repeats: int | None = None
    placements: int | None = None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FormerColour:
    """What a swatch was said to be before its counts were worked out again at ``at_ms``."""

    id: str
    bench: str
    swatch: str
    at_ms: int
    white: White
    lab: Lab | None = None
    u95_de00: float | None = None
    wavelength_nm: tuple[float, ...] = ()
    reflectance: tuple[float, ...] = ()
    formula: str = ""
    de00: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """A white-tile (and patch) calibration of one board; ``unit`` is its UNIT.json."""

    id: str
    bench: str
    device: str
    at_ms: int
    sensor: str
    unit: Json
    formula: str = ""
    due_ms: int | None = None
    note: str = ""
    temperature_c: float | None = None
    led_hours: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """A bottle on the shelf; ``details`` holds what the mixing model knows of it."""

    id: str
    bench: str
    name: str
    made_ms: int
    type: str | None = None
    details: Json = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reducer:
    """A thinner with its solvents, ``{name: share by volume}``."""

    id: str
    bench: str
    name: str
    made_ms: int
    solvents: Json = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One cup of mixed paint; what went in stands in its additions.

    ``aim``: whether it is mixed so that it matches ``wet`` (None: the same) or once it is ``dry``;
    ``recipe``: the recipe chosen for it, ``{"kind", "drops": {paint: n}}``, empty where none was.
    """

    id: str
    bench: str
    name: str
    made_ms: int
    target: str | None = None
    drop_ml: float | None = None
    note: str = ""
    aim: str | None = None
    recipe: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchAddition:
    """One line of a batch's ledger: drops, grams or millilitres of one paint or reducer.

    What was entered is what stands here; grams become drops by the bottle's density when asked.
    """

    id: str
    bench: str
    batch: str
    at_ms: int
    paint: str | None = None
    reducer: str | None = None
    drops: int | None = None
    ml: float | None = None
    note: str = ""
    grams: float | None = None

    @property
    def poured(self) -> bool:
        """Whether the line puts anything into the cup: efflux times and lines taken back do not."""
        return bool(self.drops or self.ml or self.grams)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """One pass over a piece (tack coat, wet coat...); running while ``end_ms`` is None."""

    id: str
    bench: str
    piece: str
    kind: str
    start_ms: int
    end_ms: int | None = None
    part: str | None = None
    batch: str | None = None
    airbrush: str | None = None
    booth: str | None = None
    cartridge: str | None = None
    settings: Json = field(default_factory=dict)
    person: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelConditions:
    """One channel during one coat; ``n`` readings, all figures in ``unit``.

    ``worst_minute`` is the mean of the worst minute, ``worst_ms`` its start; which end is the worse
    one is said in ``journal.conditions.WORSE``.  ``gap_s`` is the time without a reading.
    """

    device: str
    channel: str
    unit: str
    n: int
    mean: float | None
    low: float | None
    high: float | None
    p5: float | None
    p95: float | None
    worst_minute: float | None
    worst_ms: int | None
    gap_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagMinutes:
    """How long one flag stood during a coat."""

    key: str
    level: str
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch of a coat without a reading of one channel."""

    device: str
    channel: str
    from_ms: int
    to_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What the booth did during one coat.  A missing reading is a gap, never a good value."""

    bench: str
    coat: str
    from_ms: int
    to_ms: int
    formula: str
    channels: tuple[ChannelConditions, ...] = ()
    flags: tuple[FlagMinutes, ...] = ()
    gaps: tuple[Gap, ...] = ()
    since_previous_coat_min: float | None = None
    batch_age_min: float | None = None

    def channel(self, name: str) -> ChannelConditions | None:
        """The first channel of that name with readings, else the first of that name, else None."""
        named = [c for c in self.channels if c.channel == name]
        return next((c for c in named if c.n), named[0] if named else None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """A stated condition: raised, acknowledged by a person, cleared; all three are kept."""

    id: str
    bench: str
    key: str
    level: Level
    words: str
    raised_ms: int
    title: str = ""
    acknowledged_ms: int | None = None
    acknowledged_by: str | None = None
    cleared_ms: int | None = None
    coat: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A picture, its bytes as they came."""

    id: str
    bench: str
    media_type: str
    data: bytes
    at_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A defect seen on a piece, by its trade name."""

    id: str
    bench: str
    piece: str
    defect: str
    at_ms: int
    part: str | None = None
    coat: str | None = None
    severity: str | None = None
    place: str = ""
    photo: str | None = None
    person: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionsAcknowledged:
    """A person has read the cautions of one evening (``YYYY-MM-DD``)."""

    id: str
    bench: str
    evening: str
    person: str
    at_ms: int
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cartridge:
    """A respirator cartridge from opening to change."""

    id: str
    bench: str
    name: str
    type: str
    fitted_ms: int
    opened_ms: int | None = None
    changed_ms: int | None = None
    hours_used: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Booth:
    """A booth as it was set up from ``made_ms`` on, and the room around it.

    Its flow is known in at most one way: ``flow_m3h`` delivered, ``face_m_s`` measured over the
    face, ``rating_m3h`` off the fan's box (of which ``rating_share`` counts), or ``fan``, its curve
    against duct and filter, the filter's loss times ``filter_loading``.  ``confirmed`` names the
    fields whose unit a person has confirmed.  Before ``exhaust`` was a field of its own it stood
    in ``note``.
    """

    id: str
    bench: str
    name: str
    made_ms: int
    width_m: float | None = None
    height_m: float | None = None
    volume_m3: float | None = None
    flow_m3h: float | None = None
    filter_changed_ms: int | None = None
    note: str = ""
    exhaust: Exhaust | None = None
    face_m_s: float | None = None
    rating_m3h: float | None = None
    rating_share: float | None = None
    fan: Json = field(default_factory=dict)
    filter_loading: float | None = None
    crossdraft_m_s: float | None = None
    room_volume_m3: float | None = None
    room_air_changes_h: float | None = None
    mixing_divisor: float | None = None
    confirmed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltReading:
    """What a probe read over one saturated salt at ``t_c``, after so many minutes in the jar."""

    salt: str
    t_c: float
    read_pct: float
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeCheck:
    """A humidity probe checked over salts: true %RH = ``offset_pct`` + ``gain`` × reading.

    It counts from ``at_ms`` on, until the next or until it is withdrawn; readings stay as read.
    ``uncertainty_pct`` holds between the readings ``low_pct`` and ``high_pct``.
    """

    id: str
    bench: str
    device: str
    at_ms: int
    offset_pct: float
    gain: float
    low_pct: float
    high_pct: float
    uncertainty_pct: float
    points: tuple[SaltReading, ...]
    person: str | None = None
    withdrawn_ms: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Airbrush:
    """An airbrush and how it is set."""

    id: str
    bench: str
    name: str
    made_ms: int
    nozzle_mm: float | None = None
    pressure_pa: float | None = None
    distance_mm: float | None = None
    cleaned_ms: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockStep:
    """The wall clock was set: it read ``before_ms`` and a moment later ``after_ms``."""

    id: str
    bench: str
    at_ms: int
    before_ms: int
    after_ms: int
    reason: str


HumanRecord = (
    Piece
    | Part
    | Target
    | Swatch
    | FormerColour
    | Calibration
    | Paint
    | Reducer
    | Batch
    | BatchAddition
    | Coat
    | Flag
    | Photo
    | Finding
    | CautionsAcknowledged
    | Cartridge
    | Booth
    | ProbeCheck
    | Airbrush
    | ClockStep
)
Record = Reading | Conditions | HumanRecord


def new_id(prefix: str, source: random.Random) -> str:
    """``prefix`` and ten letters and digits from ``source``: 50 bits, no clock in it."""
    letters = "0123456789abcdefghjkmnpqrstvwxyz"
    return f"{prefix}-{''.join(source.choices(letters, k=10))}"

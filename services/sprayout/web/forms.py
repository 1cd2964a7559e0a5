"""What the page sends: one form an act; a field that is wrong is named in one line."""

from typing import Annotated, Literal

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict, Field

from sprayout.errors import BadInput
from sprayout.journal.records_json import parse_time

Name = Annotated[str, Field(min_length=1, max_length=200, examples=["pilot cutter hull blue"])]


#: A white tile without a certificate is taken as this at every wavelength, and said to be.
FLAT_TILE = 0.95
#: A photo from a telephone; larger ones are refused, not cut.
LARGEST_PHOTO = 12_000_000
FLAT_TILE_NM = [float(nm) for nm in range(380, 790, 10)]


class Form(BaseModel):
    """A form takes the fields it names and no others."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class WhiteTile(Form):
    """The tile's certificate; without one the tile is taken as 95 % at every wavelength."""

    wavelength_nm: list[float] = Field(default=FLAT_TILE_NM, min_length=6, max_length=1000)
    reflectance: list[float] = Field(
        default=[FLAT_TILE] * len(FLAT_TILE_NM), min_length=6, max_length=1000
    )


class ChartPatch(Form):
    """A patch of the chart, known by its certificate, by published averages, or as Lab (D50/2°).

    `chart`: a chart that `/api/charts` lists; then `name` is the patch's name on it.
    """

    name: Name
    chart: str | None = Field(default=None, max_length=40, examples=["iso-17321-1"])
    wavelength_nm: list[float] | None = Field(default=None, min_length=6, max_length=1000)
    reflectance: list[float] | None = Field(default=None, min_length=6, max_length=1000)
    lab_d50_2: tuple[float, float, float] | None = None


class MeasuredPatch(Form):
    """A patch of the chart that was measured in this calibration."""

    name: Name


class CheckedTile(Form):
    """A green or grey tile kept for daily checks."""

    name: Name = "check tile"


Corner = tuple[
    Annotated[int, Field(ge=0, le=100_000)],
    Annotated[int, Field(ge=0, le=100_000)],
    Annotated[int, Field(ge=1, le=100_000)],
    Annotated[int, Field(ge=1, le=100_000)],
]


class NewTarget(Form):
    """A target: `lab` typed in, `munsell` notation, or measured (`measure`) under the sensor.

    A typed `lab` holds for `white`, or for the `illuminant` and `observer` it is stated for; then
    `white` is what it is carried over to.  `variant_of`: the model whose shades stand side by side.
    """

    name: Name
    lab: tuple[float, float, float] | None = None
    white: Literal["d65-10", "d50-2"] = "d65-10"
    illuminant: Literal["d65", "d50", "a", "led-b3", "c"] | None = None
    observer: Literal[2, 10] | None = None
    munsell: str | None = Field(default=None, min_length=1, max_length=40, examples=["5R 4/10"])
    u95_de00: float | None = Field(default=None, ge=0, le=50)
    tolerance_de00: float | None = Field(default=None, gt=0, le=20)
    variant_of: str | None = Field(default=None, min_length=1, max_length=200)
    measure: bool = False


class PickedPicture(Form):
    """A picture, the patch picked in it and perhaps a neutral: [left, top, width, height] px."""

    name: Name
    media_type: Literal["image/jpeg", "image/png", "image/webp", "image/gif"]
    data_base64: str = Field(min_length=4, max_length=LARGEST_PHOTO * 4 // 3 + 4)
    patch: Corner
    neutral: Corner | None = None


class PhotographedTarget(Form):
    """A guide to a colour known from photographs: the same patch picked in one or more of them."""

    name: Name
    pictures: list[PickedPicture] = Field(min_length=1, max_length=8)
    neutral_l: float | None = Field(default=None, ge=20, le=100)
    white: Literal["d65-10", "d50-2"] = "d65-10"
    tolerance_de00: float | None = Field(default=None, gt=0, le=20)
    variant_of: str | None = Field(default=None, min_length=1, max_length=200)


class NewBatch(Form):
    """A new cup; without `aim` it aims as the cup before: to match wet, or once it is dry."""

    name: Name
    drop_ml: float | None = None
    aim: Literal["wet", "dry"] | None = None


class Dose(Form):
    """Drops of one paint, or the grams the scale showed; one of the two."""

    paint: Name
    drops: int | None = Field(default=None, ge=1, le=2000)
    grams: float | None = Field(default=None, gt=0, le=1000)


class NewAddition(Form):
    """Paint into the cup in hand: one paint in drops or grams, or several in `doses`.

    Several are written all of them or none.
    """

    paint: Name | None = None
    drops: int | None = Field(default=None, ge=1, le=2000)
    grams: float | None = Field(default=None, gt=0, le=1000)
    doses: list[Dose] | None = Field(default=None, min_length=1, max_length=12)
    lines: int | None = Field(
        default=None, ge=0, description="lines of the ledger as the screen knew it"
    )


class NewPaint(Form):
    """A bottle on the shelf."""

    name: Name
    family: Literal["enamel", "lacquer", "acrylic"]
    drop_ml: float = 0.05
    white: bool = False
    price_per_ml: float | None = Field(
        default=None, ge=0, le=1000, description="in your own money; then cheapest counts money"
    )
    density_g_ml: float | None = Field(
        default=None, ge=0.5, le=4, description="weigh 10 mL; then recipes come in grams too"
    )
    new: bool = Field(default=False, description="another bottle: a name that is taken is refused")


class Aim(Form):
    """Whether the cup in hand is to match as it is read, or once a draw of it is dry."""

    aim: Literal["wet", "dry"]


class ChosenRecipe(Form):
    """One of the choices of `/api/mixing/recipe`; null goes back to free advice."""

    kind: Literal["recommended", "closest", "cheapest", "least metameric"] | None


class PaintLabel(Form):
    """What is in a paint: shares by volume, and whether a hardener belongs to it.

    `no_data` names those of its solvents that are in none of our tables: a name that is neither
    known nor listed there is refused.  Limits are those of the product's own data sheet.
    """

    paint: Name
    solvents: dict[str, float] | None = Field(default=None, max_length=12)
    two_part: bool | None = None
    label: str | None = Field(default=None, max_length=2000)
    pigments: list[str] | None = Field(default=None, max_length=20)
    solids_g_ml: float | None = Field(default=None, gt=0, le=5)
    no_data: list[Name] | None = Field(default=None, max_length=12)
    data_sheet_limits_ppm: dict[str, float] | None = Field(default=None, max_length=12)
    dust_limit_mg_m3: float | None = Field(default=None, gt=0, le=1000)


class DataSheet(Form):
    """A paint's own limits, as its data sheet states them (see `sprayout recoat --help`)."""

    paint: Name
    limits: dict[str, float | str | None] = Field(min_length=1, max_length=20)


class PaintSwatch(Form):
    """A dry swatch under the sensor: `parts` in drops, thick (hiding) or over a black or white."""

    parts: dict[str, float] = Field(min_length=1, max_length=8)
    over: Literal["black", "white"] | None = None


class SwatchAside(Form):
    """A swatch left out of what is known of a paint, or taken back; `number` counts from 1."""

    paint: Name
    number: int = Field(ge=1, le=1000)
    set_aside: bool = True


class NewReducer(Form):
    """A thinner; `solvents` by volume, shares that add up to 1 or to 100.

    `no_data` names those that are in none of our tables.
    """

    name: Name
    solvents: dict[str, float] = Field(min_length=1, max_length=12)
    no_data: list[Name] = Field(default=[], max_length=12)


class Thinning(Form):
    """Reducer into the cup in hand."""

    reducer: Name
    ml: float


class Drops(Form):
    """Drops that are thought of, not poured."""

    drops: dict[str, int] = Field(min_length=1, max_length=8)


class HowMuch(Form):
    """What is to be coated; what is left out is assumed and said to be."""

    area_cm2: float = Field(gt=0, le=100_000)
    coats: int = Field(ge=1, le=20)
    wet_um_per_coat: float = Field(gt=0, le=500)
    reducer_parts: float = Field(default=0.0, ge=0, le=20)
    transfer: float | None = Field(default=None, gt=0, le=1)
    left_behind_ml: float | None = Field(default=None, ge=0, le=100)
    spare: float | None = Field(default=None, ge=0, le=5)
    drop_ml: float = Field(default=0.05, gt=0, le=0.5)


class EffluxTime(Form):
    """Seconds through a cup, as *ISO 2431 4*, at the paint's temperature."""

    cup: Name
    seconds: float = Field(gt=0, le=1000)
    temperature_c: float = Field(ge=0, le=60)


class Again(Form):
    """The size of the next batch of the same colour; `begin`: name a cup to mix it in now."""

    paint_ml: float = Field(gt=0, le=1000)
    begin: Name | None = None


class PieceInHand(Form):
    """The piece to be sprayed, what it is made of, and what an infrared thermometer sees of it."""

    piece: Name
    metal: Literal["steel", "zinc", "brass", "aluminium"] | None = None
    metal_mm: float | None = Field(default=None, gt=0, le=100)
    surface: Name | None = None


class PartByContact(Form):
    """The part's temperature measured by a contact thermometer; it counts for half an hour."""

    part_c: float


class FanCurve(Form):
    """A fan's curve off its maker's sheet, and what duct and clean filter take at one flow."""

    curve: list[tuple[float, float]] = Field(min_length=2, max_length=100)
    at_flow_m3h: float = Field(gt=0, le=1_000_000)
    duct_pa: float = Field(ge=0, le=100_000)
    clean_filter_pa: float = Field(ge=0, le=100_000)


class BoothSetUp(Form):
    """The booth: its open face, its air, how its flow is known, and the room around it.

    At most one of `flow_m3h` (measured), `face_m_s` (measured over the face), `rating_m3h` (the
    fan's box) and `fan` (its curve).  `confirmed` names fields whose unusual figure is right.
    """

    name: Name
    width_m: float | None = Field(default=None, gt=0, le=1_000_000)
    height_m: float | None = Field(default=None, gt=0, le=1_000_000)
    volume_m3: float | None = Field(default=None, gt=0, le=1_000_000)
    flow_m3h: float | None = Field(default=None, gt=0, le=100_000_000)
    exhaust: Literal["ducted", "recirculating"] | None = None
    face_m_s: float | None = Field(default=None, ge=0, le=100_000)
    rating_m3h: float | None = Field(default=None, gt=0, le=100_000_000)
    rating_share: float | None = Field(default=None, ge=0, le=1)
    fan: FanCurve | None = None
    filter_loading: float | None = Field(default=None, ge=1, le=1000)
    crossdraft_m_s: float | None = Field(default=None, ge=0, le=100_000)
    filter_changed: str | None = Field(default=None, max_length=40)
    room_volume_m3: float | None = Field(default=None, gt=0, le=100_000_000)
    room_air_changes_h: float | None = Field(default=None, ge=0, le=100_000)
    mixing_divisor: float | None = Field(default=None, le=100)
    confirmed: list[str] = Field(default=[], max_length=20)
    note: str = Field(default="", max_length=500)


class OverSalt(Form):
    """What the probe itself read over a saturated salt, after so many minutes in a shut jar."""

    salt: Name
    t_c: float
    read_pct: float
    minutes: float


class ProbeOverSalts(Form):
    """A humidity probe checked over one salt, or two."""

    probe: Name
    points: list[OverSalt] = Field(min_length=1, max_length=2)
    person: Name | None = None
    note: str = Field(default="", max_length=500)


class NewCartridge(Form):
    """A cartridge just opened."""

    name: Name
    type: Name


class NewSwatch(Form):
    """A measurement of what is under the sensor."""

    of: Literal["cup", "dry card", "coat", "base"] = "cup"
    note: str = Field(default="", max_length=500)
    coat: str | None = None


class NewCoat(Form):
    """The start of a coat; `part` and `airbrush` by id or name, no airbrush where it is empty."""

    piece: Name
    kind: Literal["tack coat", "wet coat", "clear coat", "primer coat"]
    settings: dict[str, str | float] = {}
    part: str | None = Field(default=None, min_length=1, max_length=200)
    airbrush: str | None = Field(default=None, max_length=200)


class SprayedVolume(Form):
    """What a coat took out of the cup, and the area of the piece it went over."""

    ml: float = Field(gt=0, le=1000)
    area_cm2: float | None = Field(default=None, gt=0, le=100_000)


class Signature(Form):
    """The name of the person who has read it."""

    person: Name


class Failure(BaseModel):
    """Every refusal and failure: one line that says what is wrong and what to do."""

    error: str
    field: str | None = None


def time_of(field: str, text: str) -> int:
    """Return the time a field of a form states, in ms; a fault of it names the field."""
    try:
        return parse_time(text)
    except BadInput as error:
        raise BadInput(f"{field}: {error}") from error


def fault_of_ours(error: Exception) -> Failure:
    """What is said where the bench itself failed: how far it came is not known."""
    return Failure(
        error=f"the bench failed ({type(error).__name__}), and part of it may be on record; look "
        "at the record before you try again"
    )


def first_fault(error: RequestValidationError) -> Failure:
    """Return the first fault of a form in words."""
    fault = error.errors()[0]
    if fault["type"] == "json_invalid":
        return Failure(error="form: got a text that is no JSON, wanted an object; correct it")
    place = [str(part) for part in fault["loc"] if part not in ("body", "query", "path")]
    field = ".".join(place)
    got = fault.get("input")
    shown = "nothing" if got is None or fault["type"] == "missing" else repr(got)[:80]
    wanted = str(fault["msg"]).removeprefix("Value error, ")
    return Failure(
        error=f"{field or 'form'}: got {shown}; {wanted[:1].lower()}{wanted[1:]}; correct it and "
        "send it again",
        field=field or None,
    )

"""From the fields of a request, by name, to the answer of its kind: one door for all callers.

The command line and the web hand in the same field names: the options of ``sprayout air KIND``
with underscores.  Numbers may be numbers or text.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.safety import air_json, booth_json, substance_json
from sprayout.safety.air_answers import Answer, too_far
from sprayout.safety.cautions import region_named
from sprayout.safety.given import finite


@dataclass(frozen=True, slots=True)
class Field:
    """One input of a kind: its name, unit, help, and whether it has to be there."""

    name: str
    help: str
    required: bool = True
    what: str = "number"

    @property
    def option(self) -> str:
        """Its name on the command line."""
        return "--" + self.name.replace("_", "-")


@dataclass(frozen=True, slots=True)
class Kind:
    """One question that can be asked about the air, its inputs and who answers it."""

    name: str
    help: str
    fields: tuple[Field, ...]
    work: Callable[..., Answer]


def _may(name: str, words: str, what: str = "number") -> Field:
    return Field(name, words, required=False, what=what)


_COMMON = (
    _may("mixing_divisor", "Divides the flow where air mixes imperfectly, 1 or more (1)."),
    _may("region", "Whose limits and wording: us, uk or eu (us).", "text"),
)
_VOLUME = Field("volume_m3", "Volume of air, m³.")
_FLOW = Field("flow_m3h", "Air that leaves, m³/h, as delivered.")
_SUBSTANCE = Field("substance", "Name, synonym or CAS number.", what="text")
_PPM = Field("ppm", "Concentration, ppm.")
_LIQUID = (
    _may("substance", "Name, synonym or CAS number.", "text"),
    _may("molar_mass_g", "Molar mass, g/mol."),
    _may("density_kg_l", "Density of the liquid, kg/L."),
)

KINDS = {
    kind.name: kind
    for kind in (
        Kind(
            "purge",
            "How long to run the fan after the last coat.",
            (
                _VOLUME,
                _FLOW,
                Field("from", "Concentration at the start, ppm."),
                Field("to", "Concentration to come down to, ppm."),
            ),
            air_json.purge,
        ),
        Kind(
            "dilution",
            "Fresh air that holds an evaporation at a concentration.",
            (
                *_LIQUID,
                Field("evaporation_ml_min", "Liquid that evaporates, mL/min."),
                Field("target_ppm", "Concentration to hold, ppm."),
                _may("air_c", "Air temperature, °C (25)."),
            ),
            air_json.dilution,
        ),
        Kind(
            "build-up",
            "How a vapour builds up in a room.",
            (
                _VOLUME,
                _FLOW,
                _may("generation_mg_min", "Vapour, mg/min, with --molar-mass-g."),
                _may("molar_mass_g", "Molar mass, g/mol."),
                _may("generation_l_min", "Vapour, L/min, instead."),
                _may("start_ppm", "Concentration at the start, ppm (0)."),
                Field("minutes", "Time, min."),
            ),
            air_json.build_up,
        ),
        Kind(
            "face-velocity",
            "Air speed at the booth's face beside what workplace rules ask.",
            (
                _FLOW,
                Field("width_m", "Width of the open face, m."),
                Field("height_m", "Height of the open face, m."),
            ),
            booth_json.face_velocity,
        ),
        Kind(
            "explosive",
            "How near evaporated solvent comes to its lower explosive limit.",
            (
                *_LIQUID,
                _may("lel_pct", "Lower explosive limit, % by volume."),
                Field("ml", "Liquid that evaporates, mL."),
                _VOLUME,
            ),
            booth_json.explosive,
        ),
        Kind(
            "mixture",
            "Additive index of several vapours.",
            (Field("part", "PPM/LIMIT of one vapour; say it once for each.", what="list"),),
            substance_json.mixture,
        ),
        Kind(
            "two-box",
            "Breathing zone and rest of the room.",
            (
                Field("generation_mg_min", "Vapour, mg/min."),
                Field("flow_m3_min", "Fresh air of the room, m³/min."),
                Field("radius_m", "Radius of the near field, m."),
                Field("air_speed_m_min", "Air speed around the work, m/min."),
                _may("minutes", "Time, min; left out for the end state."),
                _may("volume_m3", "Volume of the room, m³, with --minutes."),
            ),
            air_json.two_boxes,
        ),
        Kind(
            "cartridge",
            "Hours of an organic-vapour cartridge by the rule of thumb.",
            (
                _SUBSTANCE,
                _PPM,
                Field("rh_pct", "Relative humidity, %."),
                _may("work_ratio", "Breathing against normal work (1)."),
            ),
            substance_json.cartridge,
        ),
        Kind(
            "respirator",
            "Classes whose assigned factor covers a concentration.",
            (_SUBSTANCE, _PPM, _may("limit_ppm", "Limit from the data sheet, ppm, instead.")),
            substance_json.respirator,
        ),
        Kind(
            "substance",
            "Limits and properties of one substance, with sources.",
            (Field("name", "Name, synonym or CAS number.", what="text"),),
            substance_json.substance_facts,
        ),
    )
}

_ARGUMENTS = {"from": "from_ppm", "to": "to_ppm", "part": "parts"}


def answer_air(kind: str, given: Mapping[str, object]) -> Answer:
    """The answer of one kind to fields by name; a field left out or ``None`` is not given.

    An unknown kind or field, a required field that is missing, or a value of the wrong sort
    raises ``BadInput``.
    """
    asked = KINDS.get(kind)
    if asked is None:
        raise BadInput(f"air: got {kind!r}, wanted one of {', '.join(KINDS)}; choose one")
    fields = {field.name: field for field in (*asked.fields, *_COMMON)}
    values = {name: value for name, value in given.items() if value is not None}
    for name in values:
        if name not in fields:
            raise BadInput(f"air {kind}: got {name!r}, wanted {', '.join(fields)}; leave it out")
    for field in asked.fields:
        if field.required and field.name not in values:
            raise BadInput(f"air {kind}: {field.option} is missing ({field.help}); add it")
    read = {_ARGUMENTS.get(n, n): _read(fields[n], value) for n, value in values.items()}
    if "region" in read:
        read["region"] = region_named(str(read["region"]))
    try:
        return asked.work(**read)
    except (OverflowError, ZeroDivisionError):
        raise too_far(kind) from None


def common_fields() -> tuple[Field, ...]:
    """Fields that every kind takes."""
    return _COMMON


def _read(field: Field, value: object) -> object:
    if field.what == "list":
        return _parts(field, value)
    if field.what == "text":
        if not isinstance(value, str) or not value.strip():
            raise BadInput(f"{field.option}: got {value!r}, wanted a word; write it out")
        return value
    if not isinstance(value, int | float | str):
        raise BadInput(f"{field.option}: got {value!r}, wanted a number; enter it in figures")
    return finite(field.option, value)  # type: ignore[arg-type]


def _parts(field: Field, value: object) -> Sequence[str]:
    texts = [value] if isinstance(value, str) else value
    if not isinstance(texts, list | tuple) or not all(isinstance(t, str) for t in texts):
        raise BadInput(f"{field.option}: got {value!r}, wanted PPM/LIMIT; repeat it for each")
    return list(texts)

"""What several kinds of ``sprayout air`` share: a liquid by name or figures, a rate, a limit."""

from sprayout.errors import BadInput
from sprayout.safety import room_air
from sprayout.safety.air_answers import substance_or_refusal
from sprayout.safety.assessment import Level
from sprayout.safety.concentration import molar_volume_l
from sprayout.safety.given import above_zero, not_below_zero
from sprayout.safety.limits import lowest_ppm
from sprayout.safety.refusals import Refusal, named
from sprayout.safety.tables import Source
from sprayout.safety.wording import said

NO_LIMIT_HERE = (
    "A concentration alone: set it beside the lowest limit of the data sheet before it means "
    "anything."
)


def liquid(
    substance: str | None,
    molar_mass_g: float | None,
    density_kg_l: float | None,
    lel_pct: float | None = None,
) -> tuple[tuple[float, float], Refusal | None]:
    """(density kg/L, molar mass g/mol) by name or as given, and a refusal if one is due.

    A name together with figures, or neither, raises ``BadInput``.
    """
    if substance is not None:
        if molar_mass_g is not None or density_kg_l is not None or lel_pct is not None:
            raise BadInput(
                "substance: got a name and figures of its own, wanted one of the two; leave out "
                "the name to use your figures"
            )
        return _liquid_of(substance)
    if molar_mass_g is None or density_kg_l is None:
        raise BadInput(
            "substance: got neither a name nor both molar mass and density, wanted one of the "
            "two; take them from the data sheet"
        )
    mass = above_zero("molar mass", molar_mass_g, "g/mol")
    return (above_zero("density", density_kg_l, "kg/L"), mass), None


def _liquid_of(name: str) -> tuple[tuple[float, float], Refusal | None]:
    found, refusal = substance_or_refusal(name)
    if refusal or found is None:
        return (1.0, 1.0), refusal
    density, mass = found.density_kg_l, found.molar_mass_g
    if density is None or mass is None or found.kind != "vapour":
        raise BadInput(
            f"substance: got {found.name}, wanted a liquid solvent with density and molar mass; "
            "enter molar mass and density from the data sheet"
        )
    return (density.value, mass.value), None


def generation(l_min: float | None, mg_min: float | None, molar_mass_g: float | None) -> float:
    """Vapour in L/min, given so or as mg/min with the molar mass; anything else is refused."""
    if l_min is not None and mg_min is None and molar_mass_g is None:
        return not_below_zero("generation", l_min, "L/min")
    if l_min is None and mg_min is not None and molar_mass_g is not None:
        return room_air.vapour_l_min(mg_min, molar_mass_g)
    raise BadInput(
        "generation: wanted either L/min of vapour, or mg/min with the molar mass in g/mol; ppm "
        "cannot be worked out from mg without it"
    )


def beside_limits(
    name: str | None, ppm: float, region: str
) -> tuple[Level, str, tuple[Source, ...]]:
    """A concentration beside IDLH and the lowest limit of a named substance."""
    found = substance_or_refusal(name)[0] if name is not None else None
    if found is None:
        return Level.CAUTION, NO_LIMIT_HERE, ()
    idlh = found.idlh_in_ppm
    if idlh is not None and ppm >= idlh.value:
        return Level.REFUSE, named("idlh").words(), (idlh.source,)
    lowest = lowest_ppm(found, region)
    if lowest is None or lowest.ppm is None:
        return Level.CANNOT_ASSESS, named("missing_limit").words(), ()
    over = ppm > lowest.ppm
    side = "over" if over else "not over"
    words = f"{said(ppm)} ppm is {side} its lowest limit, {lowest.words()}."
    return (Level.STOP if over else Level.CAUTION), words, (lowest.source,)


def molar_volume_words(air_c: float | None) -> str:
    """The molar volume counted with, for the assumptions."""
    at = "25 °C, by convention" if air_c is None else f"{air_c:g} °C and 101.325 kPa"
    return f"One mole of vapour fills {molar_volume_l(air_c):.2f} L at {at}."

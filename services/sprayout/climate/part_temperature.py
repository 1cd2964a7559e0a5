"""Part temperature by infrared thermometer, and why bare metal fools it.

A thermometer that sees all wavelengths reads, through its own emissivity setting, the mixture
    ε_set T_read⁴ + (1 - ε_set) T_around⁴ = ε T_part⁴ + (1 - ε) T_around⁴   (kelvin),
the grey-body radiation balance of any heat-transfer text; a real one with a band of 8 to 14 µm
departs from it by some tenths of a kelvin at room temperature.  Emissivities are typical values
of handbooks, from memory; a real surface may be 0.1 off.
"""

from dataclasses import dataclass

from sprayout.errors import BadInput

EMISSIVITY: dict[str, float] = {
    "painted": 0.95,
    "primed": 0.93,
    "matt black tape": 0.95,
    "paper masking tape": 0.92,
    "rusted steel": 0.75,
    "blasted steel": 0.45,
    "bare steel": 0.25,
    "tinplate": 0.08,
    "brass": 0.08,
    "zinc casting": 0.20,
    "aluminium": 0.07,
}
LEAST_USABLE = 0.6
_SURFACE_DOUBT = 0.05


@dataclass(frozen=True, slots=True)
class PartTemperature:
    """A part temperature with its ±; ``part_c`` ``None`` where the reading says nothing of it."""

    part_c: float | None
    plus_minus_k: float | None
    warning: str | None


def entered(part_c: float) -> PartTemperature:
    """A temperature measured by contact and typed in; ±0.5 K is common for such thermometers."""
    if not -20.0 <= part_c <= 90.0:
        raise BadInput(f"part temperature: got {part_c:g} °C, wanted -20 to 90 °C; measure again")
    return PartTemperature(part_c, 0.5, None)


def from_infrared(
    read_c: float, around_c: float | None, surface: str | float, emissivity_set: float = 0.95
) -> PartTemperature:
    """Part temperature from an infrared reading of a named surface or a known emissivity.

    ``around_c`` is what the part mirrors: the booth's walls, near enough its air.  Below an
    emissivity of 0.6 the mirror image outweighs the part, and no temperature is given.
    """
    emissivity = _emissivity(surface)
    if not LEAST_USABLE <= emissivity_set <= 1.0:
        raise BadInput(f"emissivity setting: got {emissivity_set:g}, wanted 0.6 to 1; set it so")
    if not -20.0 <= read_c <= 90.0:
        raise BadInput(f"infrared reading: got {read_c:g} °C, wanted -20 to 90 °C; measure again")
    if emissivity < LEAST_USABLE:
        return PartTemperature(None, None, _mirror_words(surface, emissivity))
    if around_c is None:
        return PartTemperature(None, None, "air temperature is missing, so it cannot be corrected")
    part = _balance(read_c, around_c, emissivity, emissivity_set)
    other = _balance(read_c, around_c, max(emissivity - _SURFACE_DOUBT, 0.5), emissivity_set)
    return PartTemperature(part, 0.5 + abs(other - part), None)


def surface_named(surface: str) -> str:
    """The surface as the table writes it; another is refused with the list."""
    key = surface.strip().casefold()
    if key not in EMISSIVITY:
        raise BadInput(f"surface: got {surface!r}, wanted one of {', '.join(EMISSIVITY)}")
    return key


def _emissivity(surface: str | float) -> float:
    if isinstance(surface, str):
        return EMISSIVITY[surface_named(surface)]
    if not 0.0 < surface <= 1.0:
        raise BadInput(f"emissivity: got {surface:g}, wanted above 0 to 1; see its table")
    return float(surface)


def _balance(read_c: float, around_c: float, emissivity: float, emissivity_set: float) -> float:
    read, around = (read_c + 273.15) ** 4, (around_c + 273.15) ** 4
    part = (emissivity_set * (read - around) + emissivity * around) / emissivity
    return float(max(part, 0.0) ** 0.25 - 273.15)


def _mirror_words(surface: str | float, emissivity: float) -> str:
    name = surface if isinstance(surface, str) else "this surface"
    return (
        f"{name} has an emissivity of about {emissivity:.2f}: the thermometer sees the room "
        "mirrored in it, not the part; stick paper tape or a dab of paint on it and measure that, "
        "or use a contact thermometer"
    )

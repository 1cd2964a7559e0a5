"""What colours a paint: absorption and scattering over wavelength, and who is on the shelf.

K and S are per millimetre of dry film at the load of a full-strength bottle.  All curves are
invented; they only have the character of the pigment kind (an iron oxide's soft edge, a
phthalocyanine's steep bands).  ``filler`` is the share of the film's volume that the pigment
takes at load 1; it decides how much the particles crowd each other.
"""

from dataclasses import dataclass, field

from sprayout.errors import BadInput
from sprayout.sim.spectra import WAVELENGTH_NM, Spectrum, bump, rise

FAMILIES = ("enamel", "lacquer", "acrylic")


@dataclass(frozen=True, slots=True)
class Pigment:
    """Absorption and scattering per mm on the grid, and the volume it fills at load 1."""

    absorption_per_mm: Spectrum
    scattering_per_mm: Spectrum
    filler: float


@dataclass(frozen=True, slots=True)
class Paint:
    """A sort of paint as the maker meant it; a bottle of it comes from a ``Shelf``."""

    name: str
    family: str
    loads: dict[str, float] = field(hash=False)
    drop_ml: float = 0.05

    def __post_init__(self) -> None:
        """Check family, pigments and loads."""
        if self.family not in FAMILIES:
            raise BadInput(
                f"paint {self.name!r}: family is {self.family!r}, wanted one of "
                f"{', '.join(FAMILIES)}"
            )
        for pigment, load in self.loads.items():
            if pigment not in PIGMENTS:
                raise BadInput(
                    f"paint {self.name!r}: pigment {pigment!r} is unknown, wanted one of "
                    f"{', '.join(PIGMENTS)}"
                )
            if not 0.0 < load <= 3.0:
                raise BadInput(f"paint {self.name!r}: load of {pigment} is {load}, wanted 0 to 3")
        if not self.loads or not 0.005 <= self.drop_ml <= 0.5:
            raise BadInput(
                f"paint {self.name!r}: {len(self.loads)} pigments, drops of {self.drop_ml} mL; "
                "wanted one pigment or more and drops of 0.005 to 0.5 mL"
            )


def _falling(power: float) -> Spectrum:
    """Scattering that fades towards long waves, 1 at 550 nm."""
    fall: Spectrum = (550.0 / WAVELENGTH_NM) ** power
    return fall


def _pigments() -> dict[str, Pigment]:
    """The colourants, each with the character of its kind."""
    level = _falling(0.0)
    return {
        "titanium white": Pigment(
            0.10 + 70.0 * (1.0 - rise(397.0, 5.5)), 135.0 * _falling(0.85), 0.18
        ),
        "carbon black": Pigment(520.0 * _falling(0.35), 3.5 * _falling(1.5), 0.05),
        "yellow oxide": Pigment(
            1.4 + 105.0 * (1.0 - rise(512.0, 24.0)) + 3.0 * bump(650.0, 45.0) + 2.5 * rise(780, 60),
            34.0 * _falling(0.9),
            0.14,
        ),
        "red oxide": Pigment(
            5.5 + 175.0 * (1.0 - rise(577.0, 12.5)) + 9.0 * bump(655.0, 35.0),
            26.0 + 24.0 * rise(590.0, 40.0),
            0.13,
        ),
        "organic yellow": Pigment(
            0.25 + 150.0 * (1.0 - rise(492.0, 9.0)), 15.0 * _falling(1.3), 0.11
        ),
        "organic red": Pigment(
            0.5 + 210.0 * (1.0 - rise(590.0, 9.0)) * (1.0 - 0.55 * bump(432.0, 34.0)),
            9.0 + 6.0 * rise(600.0, 25.0),
            0.10,
        ),
        "phthalo green": Pigment(
            3.0 + 300.0 * bump(642.0, 54.0) + 190.0 * bump(420.0, 30.0) + 60.0 * bump(718.0, 30.0),
            4.5 * level,
            0.07,
        ),
        "phthalo blue": Pigment(
            3.2 + 360.0 * bump(618.0, 50.0) + 150.0 * bump(692.0, 24.0) + 60.0 * bump(365.0, 28.0),
            4.2 * _falling(0.8),
            0.07,
        ),
        "ultramarine": Pigment(
            1.5 + 95.0 * bump(594.0, 42.0) + 22.0 * bump(668.0, 32.0), 7.0 * _falling(1.6), 0.15
        ),
        "umber": Pigment(12.0 + 190.0 * (1.0 - rise(455.0, 75.0)), 17.0 * _falling(0.6), 0.12),
    }


PIGMENTS: dict[str, Pigment] = _pigments()

PAINTS: tuple[Paint, ...] = (
    Paint("ice-van white", "enamel", {"titanium white": 1.0, "yellow oxide": 0.004}),
    Paint("coal-hatch black", "enamel", {"carbon black": 0.55, "ultramarine": 0.1}),
    Paint("quay-crane ochre", "enamel", {"yellow oxide": 0.9, "umber": 0.04,
                                         "titanium white": 0.1}),
    Paint("smokebox red oxide", "enamel", {"red oxide": 0.9, "carbon black": 0.012}),
    Paint("mooring-post yellow", "enamel", {"organic yellow": 1.0, "titanium white": 0.16}),
    Paint("starboard-lamp green", "enamel", {"phthalo green": 0.42, "organic yellow": 0.30,
                                             "titanium white": 0.05}),
    Paint("deep-berth blue", "enamel", {"phthalo blue": 0.38, "ultramarine": 0.55,
                                        "titanium white": 0.07}),
    Paint("port-lamp red", "enamel", {"organic red": 0.95, "red oxide": 0.06}),
    Paint("funnel-band buff", "lacquer", {"titanium white": 0.62, "yellow oxide": 0.25,
                                          "red oxide": 0.03}, 0.042),
    Paint("wheelhouse brown", "lacquer", {"umber": 0.8, "red oxide": 0.22}, 0.042),
    Paint("pilot cutter hull blue", "acrylic", {"titanium white": 0.40, "phthalo blue": 0.14,
                                                "ultramarine": 0.22, "carbon black": 0.02}, 0.046),
    Paint("fog-signal grey", "acrylic", {"titanium white": 0.75, "carbon black": 0.030,
                                         "yellow oxide": 0.03}, 0.046),
)  # fmt: skip
"""The museum's shelf.  The hull blue is there only as an acrylic, which does not go into an
enamel cup: the old boat's colour has to be mixed."""


def paint(name: str) -> Paint:
    """The paint of that name, or BadInput with the names there are."""
    for one in PAINTS:
        if one.name == name:
            return one
    raise BadInput(f"paint: {name!r} is not on the shelf, wanted one of "
                   f"{', '.join(p.name for p in PAINTS)}")  # fmt: skip

"""How cold the wet film gets: heat balance of evaporating solvents, steady and along the path.

Steady:  h (a + β) (T_air - T) = Σ N_i ΔH_i(T)
Flux:    N_i = h / (M_air c_p Le_i^⅔) · (y_i - y_i∞) · F, the Chilton-Colburn analogy (Chilton &
         Colburn 1934, Ind. Eng. Chem. 26, 1183), with y_i = x_i p_i(T) / P by Raoult's law and
         the Stefan flow of film theory F = ln((1 - y∞)/(1 - y)) / (y - y∞) on the sums
         (Bird, Stewart & Lightfoot, Transport Phenomena, ch. 19 and 22).
Heat:    the vapour that leaves carries heat away from the face: a = φ/(e^φ - 1),
         φ = Σ N_i c_p,i / h (Ackermann 1937, VDI-Forschungsheft 382; Bird, Stewart & Lightfoot
         ch. 19 and 22); ΔH_i at the film's own temperature.
Path:    (C_metal + Σ n_i c_i) dT/dt = h (a + β) (T_air - T) - Σ N_i ΔH_i,  dn_i/dt = -N_i;
         the minimum of the path counts.

A film without any heat but the air's (β = 0) gets colder than the thermodynamic wet bulb, for
water's Lewis number is below 1 (some 0.7 K in hot dry air).  What reads the wet bulb is a
ventilated wick, whose radiation makes up for it: Threlkeld, Thermal Environmental Engineering
(1970), theory of the psychrometer, K = c_p Le^⅔ (1 + h_rad/h_conv) / ΔH.

Honest accuracy is about ±1 K.  What is left out stands in :data:`LIMITS` and is shown beside
every result, with :data:`ACCURACY`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sprayout.climate.heat_transfer import AIR_HEAT_J_KG_K, AIR_MOLAR_MASS_KG, convection_and_beta
from sprayout.climate.moist_air import BoothAir, vapour_pressure_pa
from sprayout.climate.part import FOIL, Part
from sprayout.climate.reducer import Blend
from sprayout.climate.solvents import TABLE_C, WATER, heat_slope
from sprayout.errors import BadInput

Floats = NDArray[np.float64]

DEFAULT_FILM_UM = 30.0
_THICKEST_UM = 1_000.0
_BOILING = 0.995  # vapour fraction at which the flow is bounded
_BLOWN_OFF = 100.0  # φ beyond any film; a solver's trial step may ask for it
_DRY_SHARE = 0.01  # of the solvents' moles; the path ends there
_LONGEST_S = 7_200.0
_SAMPLES = 400
_COLDEST_BELOW_AIR_K = 80.0

LIMITS: tuple[str, ...] = (
    "cooling by the expanding airbrush jet",
    "water from the compressor line",
    "blends that are not ideal: alcohol with hydrocarbon leaves faster than taken here",
    "water that acetone and alcohols take up",
    "resin or cotton blush from a bad solvent balance: it looks the same and has another cause",
)
"""What the model leaves out."""

ACCURACY = "about ±1 K of film temperature, some ±5 %RH; a computed risk, not a probability"


@dataclass(frozen=True, slots=True)
class Film:
    """One wet coat on a part in the booth.

    ``part_c`` is the part's temperature before the coat, ``None`` where it is that of the air;
    ``beta`` ``None`` lets air speed (or the default) decide.
    """

    air: BoothAir
    blend: Blend
    part: Part = FOIL
    film_um: float = DEFAULT_FILM_UM
    part_c: float | None = None
    air_speed_ms: float | None = None
    beta: float | None = None

    def __post_init__(self) -> None:
        check_film_um(self.film_um)
        if self.beta is not None and not 0.0 <= self.beta <= 10.0:
            raise BadInput(
                f"beta: got {self.beta:g}, wanted 0 (no heat but the air's on the wet face) to 10; "
                "leave it out for 2.1"
            )
        if self.part_c is not None and not -20.0 <= self.part_c <= 90.0:
            raise BadInput(
                f"part temperature: got {self.part_c:g} °C, wanted -20 to 90 °C; measure it again"
            )

    @property
    def start_c(self) -> float:
        """Temperature of the part before the coat."""
        return self.air.air_c if self.part_c is None else self.part_c


class FilmPath(NamedTuple):
    """Film temperature and what is left of the solvents, in moles, along the time in seconds."""

    time_s: Floats
    film_c: Floats
    left: Floats

    @property
    def low_c(self) -> float:
        """Coldest moment of the path."""
        return float(self.film_c.min())

    @property
    def low_at_s(self) -> float:
        """When the film is coldest."""
        return float(self.time_s[int(self.film_c.argmin())])


def check_film_um(film_um: float) -> None:
    """Refuse a wet film that is zero, negative, missing or no film."""
    if not 0.0 < film_um <= _THICKEST_UM:
        raise BadInput(
            f"wet film: got {film_um:g} µm, wanted above 0 to {_THICKEST_UM:g} µm; "
            "a wet coat from an airbrush is some 20 to 50 µm"
        )


class _Balance:
    """The film's balance with everything that stays constant along a path taken out.

    Plain floats: with two to six solvents they are several times faster than small arrays.
    """

    def __init__(self, film: Film) -> None:
        convection, beta = convection_and_beta(film.air_speed_ms, film.part)
        self.convection = convection
        self.other_heat = convection * (beta if film.beta is None else film.beta)
        solvents = film.blend.solvents
        self.antoine = [s.antoine for s in solvents]
        # ΔH(T) = heat · heat_slope(c, T), see Solvent.vaporisation_at_j_mol
        self.heat = [s.vaporisation_j_mol / heat_slope(s.antoine[2], TABLE_C) for s in solvents]
        self.carried = [s.vapour_heat_j_mol_k / convection for s in solvents]
        self.liquid_heat = [s.liquid_heat_j_mol_k for s in solvents]
        of_air = convection / (AIR_MOLAR_MASS_KG * AIR_HEAT_J_KG_K)
        self.conductance = [of_air / s.lewis ** (2.0 / 3.0) for s in solvents]
        self.pressure = film.air.pressure_pa
        self.air_c = film.air.air_c
        self.ambient = _ambient(film)
        self.moles = [
            share * film.film_um * 1e-6 * s.density_kg_m3 / s.molar_mass_kg
            for share, s in zip(film.blend.shares, solvents, strict=True)
        ]
        self.whole = sum(self.moles)
        self.fresh = [n / self.whole for n in self.moles]
        self.metal_heat = film.part.heat_j_m2_k

    def flux(self, x: Sequence[float], film_c: float) -> list[float]:
        """Moles leaving a square metre in a second, for mole fractions ``x`` in the film."""
        t_k, pressure = film_c + 273.15, self.pressure
        y = [
            xi * math.exp(a - b / (t_k + c)) / pressure
            for xi, (a, b, c) in zip(x, self.antoine, strict=True)
        ]
        stefan = _stefan(min(sum(y), _BOILING), sum(self.ambient))
        return [
            k * (yi - out) * stefan
            for k, yi, out in zip(self.conductance, y, self.ambient, strict=True)
        ]

    def surplus(self, film_c: float, flux: Sequence[float]) -> float:
        """Heat in less heat of evaporation, W/m²."""
        drawn = sum(
            f * h * heat_slope(c, film_c)
            for f, h, (_, _, c) in zip(flux, self.heat, self.antoine, strict=True)
        )
        phi = sum(f * c for f, c in zip(flux, self.carried, strict=True))
        heat_in = self.convection * _ackermann(phi) + self.other_heat
        return heat_in * (self.air_c - film_c) - drawn

    def fresh_surplus(self, film_c: float) -> float:
        """The same for the film as it lands."""
        return self.surplus(film_c, self.flux(self.fresh, film_c))

    def slope(self, _time: float, state: Floats) -> list[float]:
        """d(moles, film temperature)/dt."""
        *moles, film_c = state.tolist()
        left = [max(n, 0.0) for n in moles]
        total = max(sum(left), 1e-30)
        flux = self.flux([n / total for n in left], film_c)
        flux = [f if n > 0.0 or f < 0.0 else 0.0 for f, n in zip(flux, moles, strict=True)]
        liquid = sum(n * c for n, c in zip(left, self.liquid_heat, strict=True))
        lump = max(self.metal_heat + liquid, 1e-3)
        return [*(-f for f in flux), self.surplus(film_c, flux) / lump]


def _stefan(film: float, ambient: float) -> float:
    """Stefan flow of film theory between vapour fractions at the film and in the booth."""
    gap = film - ambient
    if abs(gap) < 1e-9:
        return 1.0 / (1.0 - film)
    return math.log((1.0 - ambient) / (1.0 - film)) / gap


def _ackermann(phi: float) -> float:
    """Convective heat that reaches a face from which vapour blows, over that without the blowing.

    φ/(e^φ - 1), Ackermann 1937; above 1 where vapour condenses on the face.
    """
    if abs(phi) < 1e-9:
        return 1.0
    return 0.0 if phi > _BLOWN_OFF else phi / math.expm1(phi)


def _ambient(film: Film) -> list[float]:
    """Mole fractions in the booth air: water vapour, and none of the solvents."""
    water = float(vapour_pressure_pa(film.air.air_c, film.air.rh_pct)) / film.air.pressure_pa
    return [water if s.name == WATER else 0.0 for s in film.blend.solvents]


def steady_film_c(film: Film) -> float:
    """Steady temperature of the fresh film: the coldest it can come to where nothing holds heat."""
    balance = _Balance(film)
    air_c = film.air.air_c
    coldest = air_c - _COLDEST_BELOW_AIR_K
    # Imported at use: 50 MB and 0.4 s that an idle bench does not need.
    from scipy.optimize import brentq

    return float(brentq(balance.fresh_surplus, coldest, air_c + 30.0, xtol=1e-4))


def film_path(film: Film, dry_share: float = _DRY_SHARE) -> FilmPath:
    """The film from the moment it lands until ``dry_share`` of its solvents is left."""
    balance = _Balance(film)
    whole = balance.whole

    def left(_time: float, state: Floats) -> float:
        return float(np.maximum(state[:-1], 0.0).sum()) - dry_share * whole

    left.terminal = True  # type: ignore[attr-defined]
    # Imported at use: what an idle bench does not need.
    from scipy.integrate import solve_ivp

    solved = solve_ivp(
        balance.slope,
        (0.0, _LONGEST_S),
        np.append(balance.moles, film.start_c),
        method="LSODA",
        events=left,
        rtol=1e-5,
        atol=np.append(np.full(len(balance.moles), 1e-6 * whole), 1e-3),
        dense_output=True,
    )
    # Squares of even steps: the dip is early, and the solver's own steps are too wide to show it.
    time_s = solved.t[-1] * np.linspace(0.0, 1.0, _SAMPLES) ** 2
    state = solved.sol(time_s)
    state[:, 0] = np.append(balance.moles, film.start_c)
    return FilmPath(time_s, state[-1], np.maximum(state[:-1], 0.0))


def evaporation_volume_rates(
    blends: Sequence[Blend], air: BoothAir, beta: float
) -> NDArray[np.float64]:
    """Volume leaving a steady fresh film, relative within the list (arbitrary unit)."""
    rates = []
    for blend in blends:
        film = Film(air, blend, beta=beta)
        balance = _Balance(film)
        flux = balance.flux(balance.fresh, steady_film_c(film))
        volume = [s.molar_mass_kg / s.density_kg_m3 for s in blend.solvents]
        rates.append(sum(f * v for f, v in zip(flux, volume, strict=True)))
    return np.array(rates)

"""The bench with everything on it: what the chips feel, and what hands can do.

A ``World`` owns one board's optics, the surfaces, the shelf, the cup, the piece and the air of
the evening.  Chips ask it through the ``Surroundings`` protocol from the board's thread; the
script, the foreign probe and the page's operator act on it from theirs.  One lock holds it
together.  Simulated time never runs backwards: a question about an earlier moment is answered
with the present.
"""

import math
import threading
from collections.abc import Callable, Mapping

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim import spectra
from sprayout.sim.air_state import Air
from sprayout.sim.booth_air import BoothAir
from sprayout.sim.optics import VirtualUnit
from sprayout.sim.paints import CARDS, Cup, Shelf, cup_seed
from sprayout.sim.spectra import Surface
from sprayout.sim.surroundings import Sensor
from sprayout.sim.targets import TARGET_NAMES, target_swatch
from sprayout.sim.weather import Weather
from sprayout.sim.wet_part import AREA_M2, LANDS_SHARE, SOLIDS_SHARE

LONGEST_S = 48 * 3600.0
LED_WARMS_S = 60.0
LED_STAYS_S = 0.25  # after a question with the LED on, it is taken to burn this much longer
EMISSIVITY = 0.93  # of paint; a bare spot would reflect more of the booth
INFRARED_OFFSET_C = 0.2
PRESSURE_OFFSET_PA = 0.15
PRIMER = 0.52 - 0.06 * (1.0 - spectra.rise(420.0, 15.0))


class World:
    """One evening at the bench; the same seed gives the same evening.

    ``clock`` gives simulated seconds since the evening's start (19:10).  ``variation`` scales
    how far the board and the bottles differ from typical ones.
    """

    def __init__(
        self,
        seed: int,
        clock: Callable[[], float],
        *,
        weather: Weather | None = None,
        variation: float = 1.0,
        light: str = "neutral-phosphor",
    ) -> None:
        self.seed = spectra.checked_seed(seed)
        self._clock = clock
        self._lock = threading.RLock()
        self._rng = np.random.default_rng((seed, 0x99))
        self._units: dict[str, VirtualUnit] = {
            sensor: VirtualUnit(seed, variation, sensor, light) for sensor in ("spectral-8", "rgb")
        }
        white, self.white_certificate = spectra.white_tile(seed)
        check, self.check_certificate = spectra.check_tile(seed)
        patches = spectra.chart_patches(seed)
        self.chart_certificates = tuple(certificate for _, certificate in patches)
        fixed = (spectra.light_trap(), white, check, *(surface for surface, _ in patches))
        self._surfaces = {surface.name: surface for surface in fixed}
        self.shelf = Shelf(seed, variation)
        self._cups = 0
        self.cup = self._new_cup()
        self._piece = np.array(PRIMER)
        self._spray_since_s: float | None = None
        self._spray_ml_min = 0.0
        self._booth_air = BoothAir(seed, weather)
        self._under: np.ndarray | None = None
        self._ambient = 1.0
        self._button_until_s = -1.0
        self._warmth, self._led_s, self._led_lit = 0.0, 0.0, False

    # --- what the chips feel (the Surroundings protocol) ---

    def light(self, sensor: Sensor, led_ma: float, t_s: float) -> Mapping[str, float]:
        """Counts per ms at gain 1x of every channel with the LED at ``led_ma`` (0: off)."""
        with self._lock:
            warmth = self._led_warmth(led_ma > 0.0, t_s)
            unit = self._units[sensor]
            under = np.full_like(PRIMER, 0.015) if self._under is None else self._under
            rates = unit.counts_per_ms(
                under, led_ma, ambient=self._ambient, warmth=warmth, air_c=self._air(t_s).room_c
            )
        return dict(zip(unit.channels, rates.tolist(), strict=True))

    def air_c(self, t_s: float) -> float:
        """What the board's climate probe takes the air for, °C."""
        with self._lock:
            self._air(t_s)
            return self._booth_air.board_probe.air_c

    def rh_pct(self, t_s: float) -> float:
        """What the board's climate probe takes the humidity for, %RH."""
        with self._lock:
            self._air(t_s)
            return self._booth_air.board_probe.rh_pct

    def part_c(self, t_s: float) -> float:
        """What the infrared thermometer sees: mostly the part, a little of the booth around."""
        with self._lock:
            air = self._air(t_s)
            return EMISSIVITY * air.part_c + (1 - EMISSIVITY) * air.booth_c + INFRARED_OFFSET_C

    def booth_pressure_pa(self, t_s: float) -> float:
        """Differential pressure across the booth filter with the sensor's zero error, Pa."""
        with self._lock:
            return self._air(t_s).booth_pressure_pa + PRESSURE_OFFSET_PA

    def button_down(self, t_s: float) -> bool:
        """Whether a finger is on the button."""
        with self._lock:
            return t_s < self._button_until_s

    # --- what others feel ---

    def door_probe(self) -> tuple[float, float]:
        """What the foreign probe beside the yard door reads now: °C and %RH."""
        with self._lock:
            self._air(self._clock())
            probe = self._booth_air.door_probe
            return probe.air_c, probe.rh_pct

    def air(self) -> Air:
        """The true state of the air now, for tests and for the end of the story."""
        with self._lock:
            return self._air(self._clock())

    # --- what hands do at the bench ---

    def surface(self, name: str) -> Surface:
        """A surface by name: light trap, white tile, check tile, a chart patch, a target, the
        cup, the piece, or one of the paint cards (black, white)."""
        with self._lock:
            if name == "cup":
                return self.cup.surface()
            if name == "piece":
                return Surface("piece", self._piece, unevenness=0.006)
            if name in CARDS:
                return Surface(name, CARDS[name])
            if name in self._surfaces:
                return self._surfaces[name]
            if name in TARGET_NAMES:
                return target_swatch(name)
        known = (*self._surfaces, *TARGET_NAMES, "cup", "piece", *CARDS)
        raise BadInput(f"surface: got {name!r}, wanted one of {', '.join(known)}")

    def place(self, what: Surface | str | None) -> None:
        """Set the sensor on a surface (by name or as one), or lift it off with None.

        Every placement sits a little differently: level by the surface's unevenness, and a
        sliver of workshop light beside the housing.
        """
        with self._lock:
            if what is None:
                self._under, self._ambient = None, 1.0
                return
            surface = self.surface(what) if isinstance(what, str) else what
            level = 1.0 + surface.unevenness * float(self._rng.standard_normal())
            self._under = np.clip(surface.reflectance * level, 0.0, 1.0)
            self._ambient = 0.002 * math.exp(0.5 * float(self._rng.standard_normal()))

    def press_button(self, hold_s: float = 0.4) -> None:
        """Press the board's button and hold it for ``hold_s`` simulated seconds."""
        if not 0.01 <= hold_s <= 600.0:
            raise BadInput(f"hold_s: got {hold_s!r}, wanted 0.01 to 600 s")
        with self._lock:
            self._button_until_s = self._clock() + hold_s

    def fresh_cup(self) -> None:
        """Take an empty cup."""
        with self._lock:
            self.cup = self._new_cup()

    def add_drops(self, paint: str, drops: int) -> None:
        """Let drops of a bottle fall into the cup; stir before you look."""
        with self._lock:
            self.cup.add(paint, drops)

    def stir(self, strokes: int = 40) -> None:
        """Stir the cup."""
        with self._lock:
            self.cup.stir(strokes)

    def reduce(self, drops: int) -> None:
        """Add drops of reducer to the cup."""
        with self._lock:
            self.cup.reduce(drops)

    # --- what hands do in the booth ---

    def set_fan(self, on: bool) -> None:
        """Switch the extraction fan."""
        with self._lock:
            self._now().set_fan(on)

    def open_yard_door(self, is_open: bool = True) -> None:
        """Open or shut the yard door."""
        with self._lock:
            self._now().open_door(is_open)

    def start_rain(self) -> None:
        """It begins to rain."""
        with self._lock:
            self._now().start_rain()

    def set_people(self, count: int) -> None:
        """How many people breathe in the workshop."""
        with self._lock:
            self._now().set_people(count)

    def load_filter(self, grams: float) -> None:
        """Clog the booth filter with ``grams`` more of overspray."""
        with self._lock:
            self._now().load_filter(grams)

    def place_part(self, part_c: float) -> None:
        """Put a primed piece of this temperature into the booth."""
        with self._lock:
            booth_air = self._now()
            self._end_spray()
            booth_air.stop_spray()
            booth_air.place_part(part_c)
            self._piece = np.array(PRIMER)

    def spray(self, ml_min: float) -> None:
        """Spray what is in the cup at ``ml_min`` mL a minute; 0 lets go of the trigger."""
        with self._lock:
            booth_air = self._now()
            self._end_spray()
            booth_air.stop_spray()
            if ml_min == 0.0:
                return
            if self.cup.volume_ml <= 0.0:
                raise BadInput("spray: the cup is empty, wanted paint in it; add drops first")
            booth_air.start_spray(ml_min)
            self._spray_since_s, self._spray_ml_min = self._clock(), ml_min

    # --- inside ---

    def _new_cup(self) -> Cup:
        self._cups += 1
        return Cup(self.shelf, cup_seed(self.seed, self._cups))

    def _now(self) -> BoothAir:
        """The air, brought up to the present; the lock is held by the caller."""
        self._air(self._clock())
        return self._booth_air

    def _air(self, t_s: float) -> Air:
        if not 0.0 <= t_s <= LONGEST_S:
            raise BadInput(
                f"world: asked for the state at {t_s!r} s, wanted 0 to {LONGEST_S:g} s since the "
                "evening's start; start its clock with the evening"
            )
        return self._booth_air.advance(t_s)

    def _end_spray(self) -> None:
        """What was sprayed since the trigger was pulled lies on the piece now."""
        if self._spray_since_s is None:
            return
        minutes = (self._clock() - self._spray_since_s) / 60.0
        self._spray_since_s = None
        sprayed_ml = min(self._spray_ml_min * minutes, self.cup.volume_ml)
        if sprayed_ml <= 0.0:
            return
        film_um = sprayed_ml * SOLIDS_SHARE * LANDS_SHARE / AREA_M2
        self._piece = self.cup.coat_over(self._piece, min(film_um, 1000.0))
        self.cup.take(sprayed_ml)

    def _led_warmth(self, lit: bool, t_s: float) -> float:
        """How warm the LED is, 0..1, from when it was seen burning."""
        passed = max(0.0, t_s - self._led_s)
        burned = min(passed, LED_STAYS_S) if self._led_lit else 0.0
        self._warmth += (1.0 - self._warmth) * (1.0 - math.exp(-burned / LED_WARMS_S))
        self._warmth *= math.exp(-(passed - burned) / LED_WARMS_S)
        self._led_s, self._led_lit = max(t_s, self._led_s), lit
        return self._warmth

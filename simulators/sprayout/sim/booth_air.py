"""Booth, workshop and the evening outside: one air model in small steps.

Boxes of mixed air (booth, workshop) between air without end (outdoors, the museum's hall).  The
fan draws the booth's air out; the workshop makes it up from the hall and through its cracks, or
through the yard door once that stands open.  People breathe and warm, walls store heat, wood and
paper store water, wet paint gives off vapour.  Every amount moved is counted on both sides.
"""

import math

import numpy as np

from sprayout.errors import BadInput
from sprayout.sim.air_box import Box, Reservoir
from sprayout.sim.air_state import Air, VapourTally, WaterTally
from sprayout.sim.fan import FACE_M2, Fan
from sprayout.sim.moist import dew_point_c, saturation_pa
from sprayout.sim.probe_body import ProbeBody, ProbeTraits
from sprayout.sim.spectra import checked_seed
from sprayout.sim.weather import Outdoors, Weather, wandered
from sprayout.sim.wet_part import WetPart

STEP_S = 0.5
ROOM_M3 = 130.0
BOOTH_M3 = 0.36
AIR_KG_M3 = 1.18
PERSON_W, PERSON_KG_S = 75.0, 55e-3 / 3600.0
LAMPS_W = 120.0
WALL_J_K, WALL_W_K, WALL_OUT_W_K = 1.2e7, 380.0, 90.0
WALL_COOLER_K = 0.9  # the brick still holds the cool of the nights
STORE_KG, STORE_KG_S = 7.0, 4.5e-4  # wood and paper: kg of water per unit RH, kg/s per unit RH
LEAK_M3_S = 0.010  # cracks, to outdoors
HALL_M3_S = 0.012  # inner door, to the hall
HALL_C, HALL_RH = 22.0, 0.54
BOOTH_OPEN_M3_S = 0.020  # booth's open front with the fan off
DOOR_M2, DOOR_HEIGHT_M = 3.2, 2.3  # a double door onto the yard


BOARD_PROBE = ProbeTraits(22.0, 9.0, 0.15, 0.8, self_heating_k=0.25, pct_per_g_m3=1.5)
DOOR_PROBE = ProbeTraits(95.0, 40.0, -0.30, -1.5)


class BoothAir:
    """The air of one evening.  ``advance`` it to a time; change things in between."""

    def __init__(
        self,
        seed: int,
        weather: Weather | None = None,
        *,
        room_c: float = 22.6,
        room_rh_pct: float = 52.0,
        people: int = 2,
        filter_load_g: float = 0.6,
    ) -> None:
        if not (-5.0 <= room_c <= 45.0 and 1.0 <= room_rh_pct <= 100.0):
            raise BadInput(
                f"room: got {room_c!r} °C and {room_rh_pct!r} %RH, wanted -5 to 45 °C and "
                "1 to 100 %RH"
            )
        self._rng = np.random.default_rng((checked_seed(seed), 0x88))
        self._outdoors = Outdoors(weather or Weather(), self._rng)
        p = self._outdoors.pressure_pa
        self._room = Box(ROOM_M3, room_c, room_rh_pct, p)
        self._booth = Box(BOOTH_M3, room_c, room_rh_pct, p)
        self._outside = Reservoir(self._outdoors.air_c, self._outdoors.vapour_pa, p)
        self._hall = Reservoir(HALL_C, HALL_RH * saturation_pa(HALL_C), p)
        self._fan = Fan(filter_load_g)
        self._part = WetPart(room_c)
        self._wall_c = room_c - WALL_COOLER_K
        self._store_rh = room_rh_pct / 100.0
        self._door_open = False
        self._steps = 0
        self._turbulence = self._probe_swing_c = self._probe_swing_pa = 0.0
        self._start_water_kg = self._room.water_kg + self._booth.water_kg
        self._breathed_kg = self._stored_kg = self._evaporated_mg = 0.0
        self.set_people(people)
        vapour_pa = self._room.vapour_pa(p)
        self.board_probe = ProbeBody(BOARD_PROBE, room_c, vapour_pa)
        self.door_probe = ProbeBody(DOOR_PROBE, room_c, vapour_pa)

    # --- what people do ---------------------------------------------------------------------

    def set_fan(self, on: bool) -> None:
        """Switch the extraction fan."""
        self._fan.on = bool(on)

    def open_door(self, is_open: bool) -> None:
        """Open or shut the yard door."""
        self._door_open = bool(is_open)

    def start_rain(self) -> None:
        """It begins to rain now; once begun it goes on."""
        if self._outdoors.rain_since_s is None:
            self._outdoors.rain_since_s = self._t_s

    def set_people(self, count: int) -> None:
        """How many breathe in the workshop."""
        if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= 30:
            raise BadInput(f"people: got {count!r}, wanted a whole number from 0 to 30")
        self._people = count

    def start_spray(self, ml_min: float = 3.0) -> None:
        """Spray thinned paint at the part."""
        if not 0.1 <= ml_min <= 50.0:
            raise BadInput(f"ml_min: got {ml_min!r}, wanted 0.1 to 50 mL a minute")
        self._part.spray_ml_min = float(ml_min)

    def stop_spray(self) -> None:
        """Let go of the trigger."""
        self._part.spray_ml_min = 0.0

    def place_part(self, part_c: float) -> None:
        """Set a dry part of this temperature into the booth (a cold one from the yard store)."""
        sprayed_mg, rate = self._part.sprayed_mg, self._part.spray_ml_min
        self._part = WetPart(part_c)
        self._part.sprayed_mg, self._part.spray_ml_min = sprayed_mg, rate

    def load_filter(self, grams: float) -> None:
        """Clog the filter with ``grams`` more of overspray."""
        if not 0.0 <= grams <= 200.0:
            raise BadInput(f"filter load: got {grams!r} g more, wanted 0 to 200 g")
        self._fan.filter_load_g += grams

    # --- time -------------------------------------------------------------------------------

    @property
    def _t_s(self) -> float:
        return self._steps * STEP_S

    def advance(self, t_s: float) -> Air:
        """Go on to ``t_s`` in whole steps and return the state; an earlier time changes nothing."""
        if not math.isfinite(t_s) or t_s < 0.0:
            raise BadInput(f"t_s: got {t_s!r}, wanted seconds since the evening's start, 0 or more")
        missing = int(t_s / STEP_S) - self._steps
        if missing > 0:
            for row in self._rng.standard_normal((missing, 5)).tolist():
                self._step(row)
        return self._state()

    def _step(self, noise: list[float]) -> None:
        self._steps += 1
        self._outdoors.step(self._t_s, STEP_S, (noise[0], noise[1]))
        out = self._outdoors
        self._outside.set(out.air_c, out.vapour_pa, out.pressure_pa)
        self._turbulence = wandered(self._turbulence, 0.035, 4.0, STEP_S, noise[2])
        self._fan.step(STEP_S)
        self._extract()
        self._exchange()
        self._room_loads()
        self._wet_paint()
        self._settle()
        self._probes(noise)

    def _flow_m3_s(self) -> float:
        return self._fan.flow_m3_s() * (1.0 + self._turbulence)

    def _extract(self) -> None:
        """The fan: booth to outdoors, workshop to booth, and what makes it up."""
        kg = AIR_KG_M3 * self._flow_m3_s() * STEP_S
        if kg <= 0.0:
            return
        self._booth.send(kg, self._outside)
        self._room.send(kg, self._booth)
        from_yard = 0.92 if self._door_open else 0.30
        self._room.draw(kg * from_yard, self._outside)
        self._room.draw(kg * (1.0 - from_yard), self._hall)

    def _exchange(self) -> None:
        """Air that swaps places: cracks, inner door, yard door, the booth's open front."""
        swap = AIR_KG_M3 * STEP_S
        leak = LEAK_M3_S * (0.6 + 0.25 * self._outdoors.wind_ms)
        if self._door_open:
            leak += self._door_flow_m3_s()
        self._room.send(swap * leak, self._outside)
        self._room.draw(swap * leak, self._outside)
        self._room.send(swap * HALL_M3_S, self._hall)
        self._room.draw(swap * HALL_M3_S, self._hall)
        front = swap * BOOTH_OPEN_M3_S
        self._booth.send(front, self._room)
        self._room.send(front, self._booth)

    def _door_flow_m3_s(self) -> float:
        """Two-way flow through the door: warm air out above, cool in below, and the wind."""
        difference_k = abs(self._room.air_c - self._outdoors.air_c)
        buoyant = DOOR_M2 / 3.0 * 0.6 * math.sqrt(9.81 * DOOR_HEIGHT_M * difference_k / 295.0)
        return 0.7 * buoyant + 0.025 * DOOR_M2 * self._outdoors.wind_ms

    def _room_loads(self) -> None:
        """People, lamps, walls, and the wood and paper that take up or give off water."""
        room = self._room
        breathed = self._people * PERSON_KG_S * STEP_S
        room.water_kg += breathed
        self._breathed_kg += breathed
        room.heat_j += (self._people * PERSON_W + LAMPS_W) * STEP_S
        to_wall = WALL_W_K * (room.air_c - self._wall_c) * STEP_S
        room.heat_j -= to_wall
        lost = WALL_OUT_W_K * (self._wall_c - self._outdoors.air_c) * STEP_S
        self._wall_c += (to_wall - lost) / WALL_J_K
        rh = room.rh_pct(self._outdoors.pressure_pa) / 100.0
        stored = STORE_KG_S * (rh - self._store_rh) * STEP_S
        room.water_kg -= stored
        self._stored_kg += stored
        self._store_rh += stored / STORE_KG

    def _wet_paint(self) -> None:
        booth = self._booth
        speed = self._flow_m3_s() / FACE_M2
        given = self._part.step(STEP_S, booth.air_c, speed, booth.solvent_mg_m3)
        booth.solvent_mg += given.vapour_mg
        booth.heat_j -= given.heat_taken_j
        self._evaporated_mg += given.vapour_mg
        self._fan.filter_load_g += given.overspray_g * (1.0 if self._fan.on else 0.2)

    def _settle(self) -> None:
        """Warmed air needs room: the booth passes it to the workshop, that one outdoors."""
        p = self._outdoors.pressure_pa
        surplus = self._booth.surplus_kg(p)
        if surplus >= 0.0:
            self._booth.send(surplus, self._room)
        else:
            self._room.send(-surplus, self._booth)
        surplus = self._room.surplus_kg(p)
        if surplus >= 0.0:
            self._room.send(surplus, self._outside)
        else:
            self._room.draw(-surplus, self._outside)

    def _probes(self, noise: list[float]) -> None:
        p = self._outdoors.pressure_pa
        self._probe_swing_c = wandered(self._probe_swing_c, 0.06, 20.0, STEP_S, noise[3])
        self._probe_swing_pa = wandered(self._probe_swing_pa, 6.0, 20.0, STEP_S, noise[4])
        booth, room = self._booth, self._room
        self.board_probe.step(
            STEP_S,
            booth.air_c + self._probe_swing_c,
            booth.vapour_pa(p) + self._probe_swing_pa,
            booth.solvent_mg_m3,
        )
        # The door probe hangs beside the yard door and gets the draught first.
        outside = 0.35 if self._door_open else 0.03
        self.door_probe.step(
            STEP_S,
            room.air_c + outside * (self._outdoors.air_c - room.air_c) - self._probe_swing_c,
            room.vapour_pa(p) + outside * (self._outdoors.vapour_pa - room.vapour_pa(p)),
            room.solvent_mg_m3,
        )

    # --- what is -----------------------------------------------------------------------------

    def _state(self) -> Air:
        p, flow = self._outdoors.pressure_pa, self._flow_m3_s()
        draught = 0.15 * self._turbulence * (3.0 if self._door_open else 1.0)
        return Air(
            t_s=self._t_s,
            booth_c=self._booth.air_c,
            booth_rh_pct=self._booth.rh_pct(p),
            dew_point_c=dew_point_c(self._booth.vapour_pa(p)),
            part_c=self._part.part_c,
            booth_pressure_pa=self._fan.filter_pa_per_flow() * flow + draught,
            air_speed_ms=flow / FACE_M2 + 0.02 + abs(draught) * 0.2,
            booth_vapour_mg_m3=self._booth.solvent_mg_m3,
            room_c=self._room.air_c,
            room_rh_pct=self._room.rh_pct(p),
            room_vapour_mg_m3=self._room.solvent_mg_m3,
            outdoors_c=self._outdoors.air_c,
            outdoors_rh_pct=self._outdoors.rh_pct,
            pressure_pa=p,
        )

    def vapour_tally(self) -> VapourTally:
        """Where the solvent went: given = in the air + carried off."""
        return VapourTally(
            self._evaporated_mg,
            self._room.solvent_mg + self._booth.solvent_mg,
            self._outside.taken.solvent_mg + self._hall.taken.solvent_mg,
        )

    def water_tally(self) -> WaterTally:
        """Where the water went: start + breathed - stored + in - out = now."""
        return WaterTally(
            self._start_water_kg,
            self._room.water_kg + self._booth.water_kg,
            self._breathed_kg,
            self._stored_kg,
            self._outside.given.water_kg + self._hall.given.water_kg,
            self._outside.taken.water_kg + self._hall.taken.water_kg,
        )

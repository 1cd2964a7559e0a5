"""The volunteer of the demo: plays the scripted evening, hands on the bench, taps on the page.

What hands do is done to the virtual world; what a person asks of the bench goes through its HTTP
interface, as from the page.
"""

import json
import threading
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from sprayout.clock import ScaledClock
from sprayout.errors import BadInput
from sprayout.sim.evening import Act, perform
from sprayout.sim.painter import LIGHT_PAINT, TINTS
from sprayout.sim.world import World

PERSON = "A. Volunteer"
PIECE = "clockwork pilot cutter"
#: Primed before the evening begins, so that an infrared thermometer sees the part and not the room.
OF_TINPLATE = {"metal": "steel", "metal_mm": 0.3, "surface": "primed"}
DROP_ML = 0.05
#: The white first: it lets the others down.
PAINTS = (LIGHT_PAINT, *TINTS)
#: A white is heavier, for what is in it, and sold in the larger tin; invented figures.
PRICED = {
    True: {"density_g_ml": 1.3, "price_per_ml": 0.18},
    False: {"density_g_ml": 1.05, "price_per_ml": 0.32},
}
REDUCER = "slipway thinner"
#: An invented enamel's data sheet.
DATA_SHEET = {
    "dries_by": "cure", "air_min_c": 10, "air_max_c": 30, "rh_max_pct": 80,
    "flash_off_min": 10, "recoat_from_h": 0.15, "wrinkle_from_h": 6, "wrinkle_to_h": 48,
}  # fmt: skip
AIRBRUSH = {"distance_mm": 100, "pressure_bar": 1.2, "area_cm2": 180}
#: The tack coat is a light one.
SPRAYED_ML = {True: 1.0, False: 2.7}
LABEL = {"solvents": {"white spirit": 0.5}, "two_part": False, "solids_g_ml": 0.5}
BOOTH = {
    "exhaust": "ducted",
    "name": "museum booth", "width_m": 0.5, "height_m": 0.4, "volume_m3": 0.12, "flow_m3h": 560,
    "crossdraft_m_s": 0.1, "room_volume_m3": 60, "room_air_changes_h": 1, "mixing_divisor": 3,
}  # fmt: skip
#: By volume; an invented thinner of the usual kind.
SOLVENTS = {"n-butyl acetate": 0.5, "toluene": 0.3, "n-butanol": 0.2}
#: Working out a calibration or a recipe takes the machine its own time, however fast the evening.
THINKING_SPEED = 10.0
TIMEOUT_S = 30.0
MET_EVERY_S = 0.05


class NoAnswer(Exception):  # noqa: N818 - what happened, and the evening goes on
    """The bench did not answer in time."""


class BenchEnded(Exception):  # noqa: N818 - nothing went wrong
    """The bench has been stopped: nobody is there any more."""


@dataclass
class Operator:
    """Plays `acts` against a world and a bench's page; `failures` holds what was refused."""

    world: World
    clock: ScaledClock
    address: str
    acts: Sequence[Act]
    failures: list[str] = field(default_factory=list)
    done: int = 0
    _stop: threading.Event = field(default_factory=threading.Event)
    _coat: str | None = None
    _poured: bool = False

    def play(self, finished: Callable[[], None]) -> None:
        """Play to the end or until stopped; runs in its own thread."""
        for act in self.acts:
            wait_s = self.clock.real_s(act.t_s - self.clock.seconds())
            if self._stop.wait(max(wait_s, 0.0)):
                return
            try:
                self._play_one(act)
            except BenchEnded:
                return
            except BadInput as error:
                self.failures.append(f"{act.act}: {error}")
            except NoAnswer as error:
                self.failures.append(str(error))
            self.done += 1
        finished()

    def stop(self) -> None:
        """Stop at the next act."""
        self._stop.set()

    def _play_one(self, act: Act) -> None:
        if act.act == "add_drops":
            self._pour()
            return
        if act.who == "physical":
            perform(self.world, act)
            if act.act == "fresh_cup":
                self._ask("/api/batches", {"name": "cup of the evening", "drop_ml": DROP_ML})
            elif act.act == "reduce" and isinstance(act.argument, int):
                form = {"reducer": REDUCER, "ml": round(act.argument * DROP_ML, 2)}
                self._ask("/api/batches/thinning", form)
            return
        by_name: dict[str, Callable[[Act], None]] = {
            "calibrate_dark": lambda _: self._calibrate_dark(),
            "calibrate_white": lambda _: self._calibrate_white(),
            "calibrate_chart": lambda _: self._calibrate_chart(),
            "measure_target": self._measure_target,
            "get_to_know_the_paints": lambda _: self._get_to_know_the_paints(),
            "measure_mix": lambda _: self._measure_mix(),
            "start_coat": self._start_coat,
            "end_coat": lambda _: self._end_coat(),
            "acknowledge": lambda _: self._acknowledge(),
        }
        by_name[act.act](act)

    def _calibrate_dark(self) -> None:
        # The board may still be saying hello when the evening begins.
        while not self._stop.wait(MET_EVERY_S):
            state = self._bench()
            if state["calibration"]["state"] != "no board":
                break
        self._ask("/api/calibration/dark", {})

    def _calibrate_white(self) -> None:
        tile = self.world.white_certificate
        form = {"wavelength_nm": tile.wavelength_nm, "reflectance": tile.reflectance}
        with self.clock.slowed_to(THINKING_SPEED):
            self._ask("/api/calibration/white", form)

    def _calibrate_chart(self) -> None:
        """The patches of the printed chart under its own certificate, then the check tile."""
        for patch in self.world.chart_certificates:
            self.world.place(patch.name)
            form = {"name": patch.name, "wavelength_nm": patch.wavelength_nm}
            self._ask("/api/calibration/patches", form | {"reflectance": patch.reflectance})
        with self.clock.slowed_to(THINKING_SPEED):
            self._ask("/api/calibration/finish", {})
        self.world.place("check tile")
        self._ask("/api/calibration/check", {"name": "green check tile"})

    def _measure_target(self, act: Act) -> None:
        self._ask("/api/targets", {"name": act.argument, "measure": True})

    def _get_to_know_the_paints(self) -> None:
        """Swatches of the paints that may be mixed: alone, and let down with white."""
        for name in PAINTS:
            white = name == PAINTS[0]
            form = {"name": name, "family": "enamel", "white": white, **PRICED[white]}
            self._ask("/api/paints", form)
        self._ask("/api/paints/limits", {"paint": PAINTS[0], "limits": DATA_SHEET})
        for name in PAINTS:
            self._ask("/api/paints/label", {"paint": name, **LABEL})
        alone = [{name: 20} for name in PAINTS]
        let_down = [{PAINTS[0]: 20, name: 2} for name in PAINTS[1:]]
        for parts in (*alone, *let_down):
            self.world.place(self.world.shelf.drawdown(parts))
            with self.clock.slowed_to(THINKING_SPEED):
                self._ask("/api/paints/swatches", {"parts": parts})
        self._ask("/api/booth", BOOTH)
        self._ask("/api/cartridges", {"name": "left and right", "type": "organic vapour with P100"})
        self._ask("/api/reducers", {"name": REDUCER, "solvents": SOLVENTS})

    def _pour(self) -> None:
        """Once for every reading: the drops that the bench advises, not those of the script."""
        if self._poured:
            return
        self._poured = True
        with self.clock.slowed_to(THINKING_SPEED):
            advice = self._ask("/api/mixing/advice", None)
        for dose in advice.get("add", []):
            self.world.add_drops(dose["paint"], dose["drops"])
            self._ask("/api/batches/additions", {"paint": dose["paint"], "drops": dose["drops"]})

    def _measure_mix(self) -> None:
        self._ask("/api/swatches", {})
        self._poured = False

    def _start_coat(self, act: Act) -> None:
        if self._bench()["cautions"]["read_by"] is None:
            self._ask("/api/cautions/read", {"person": PERSON})
        self._ask("/api/pieces", {**OF_TINPLATE, "piece": PIECE})
        settings = AIRBRUSH | {"sprayed_ml": SPRAYED_ML[act.argument == "tack coat"]}
        form = {"piece": PIECE, "kind": act.argument, "settings": settings}
        coat = self._ask("/api/coats", form)
        self._coat = coat.get("id")

    def _end_coat(self) -> None:
        if self._coat:
            self._ask(f"/api/coats/{self._coat}/end", {})
            self._coat = None

    def _acknowledge(self) -> None:
        for flag in self._bench()["flags"]:
            if flag["acknowledged_by"] is None:
                self._ask(f"/api/flags/{flag['id']}/acknowledge", {"person": PERSON})

    def _bench(self) -> dict:  # type: ignore[type-arg]
        return self._ask("/api/bench", None)

    def _ask(self, path: str, form: object) -> dict:  # type: ignore[type-arg]
        """Send a form (None: just look) and return the answer; a refusal is noted and is empty."""
        request = urllib.request.Request(
            self.address.rstrip("/") + path,
            data=None if form is None else json.dumps(form).encode(),
            headers={"Content-Type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=TIMEOUT_S) as answer:
                return dict(json.load(answer))
        except urllib.error.HTTPError as refused:
            with refused:
                self.failures.append(f"{path}: {json.load(refused).get('error')}")
        except OSError as error:
            if self._stop.is_set() or isinstance(_cause(error), ConnectionRefusedError):
                raise BenchEnded from error
            raise NoAnswer(f"{path}: {error}") from error
        return {}


def _cause(error: OSError) -> object:
    return error.reason if isinstance(error, urllib.error.URLError) else error

"""The scripted evening: who does what when, as data.

``evening(seed)`` gives the acts in order.  Physical acts are carried out by ``perform``; bench
acts are what the operator asks of the service over HTTP (the caller plays those):

========= ================================ ==================================================
who       act                              argument
========= ================================ ==================================================
physical  ``place``                        name of a surface (``World.surface``) or None: lift
physical  ``fresh_cup``                    None
physical  ``add_drops``                    (paint, drops)
physical  ``stir``                         strokes
physical  ``reduce``                       drops of reducer
physical  ``fan`` ``yard_door``            True or False
physical  ``rain``                         None
physical  ``people``                       how many
physical  ``place_part``                   temperature in °C
physical  ``spray``                        mL a minute, 0 to stop
physical  ``press_button``                 seconds it is held
bench     ``calibrate_dark`` ``calibrate_white``   None
bench     ``measure_target``               the target's name
bench     ``measure_mix``                  None
bench     ``start_coat``                   kind of coat
bench     ``end_coat``                     None
bench     ``acknowledge``                  None: every flag that stands
========= ================================ ==================================================

What drops go into the cup is worked out by ``painter``.
"""

from dataclasses import dataclass

from sprayout.errors import BadInput
from sprayout.sim.foreign_probe import ProbeFault
from sprayout.sim.painter import TARGET, additions
from sprayout.sim.world import World

DURATION_S = 6000.0
STARTS_AT = "19:10"

DOOR_PROBE_FAULTS: tuple[ProbeFault, ...] = (
    ProbeFault("text", 2_700.0, 2_760.0),
    ProbeFault("nan", 3_180.0, 3_240.0),
    ProbeFault("absurd", 4_440.0, 4_500.0),
    ProbeFault("silence", 4_800.0, 5_100.0),
)
"""What goes wrong with the probe at the yard door on the demo's evening."""

Argument = None | bool | int | float | str | tuple[str, int]


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that happens at ``t_s`` seconds after the start; ``who``: physical or bench."""

    t_s: float
    who: str
    act: str
    argument: Argument = None

    def __post_init__(self) -> None:
        """Refuse acts of nobody and times before the evening."""
        if self.who not in ("physical", "bench"):
            raise BadInput(f"act {self.act!r}: who is {self.who!r}, wanted physical or bench")
        if not 0.0 <= self.t_s < float("inf"):
            raise BadInput(f"act {self.act!r}: at {self.t_s!r} s, wanted 0 or more")


def evening(seed: int = 0, variation: float = 1.0) -> tuple[Act, ...]:
    """The evening of this seed in order of time; about 100 simulated minutes."""
    acts = [*_calibration(), *_mixing(seed, variation), *_coats(), *_weather()]
    return tuple(sorted(acts, key=lambda act: act.t_s))


def perform(world: World, act: Act) -> None:
    """Carry out a physical act on the world; BadInput for an act it does not know."""
    by_name = {
        "place": world.place,
        "stir": world.stir,
        "reduce": world.reduce,
        "fan": world.set_fan,
        "yard_door": world.open_yard_door,
        "people": world.set_people,
        "place_part": world.place_part,
        "spray": world.spray,
        "press_button": world.press_button,
    }
    if act.who != "physical":
        raise BadInput(f"act {act.act!r}: it is for {act.who!r}, wanted a physical act")
    if act.act == "add_drops" and isinstance(act.argument, tuple):
        world.add_drops(*act.argument)
    elif act.act == "fresh_cup":
        world.fresh_cup()
    elif act.act == "rain":
        world.start_rain()
    elif act.act in by_name:
        by_name[act.act](act.argument)  # type: ignore[operator]
    else:
        raise BadInput(f"act: got {act.act!r}, wanted one of {', '.join(by_name)}, "
                       "add_drops, fresh_cup, rain")  # fmt: skip


def _calibration() -> list[Act]:
    return [
        Act(5.0, "physical", "place", "light trap"),
        Act(40.0, "bench", "calibrate_dark"),
        Act(80.0, "physical", "place", "white tile"),
        Act(115.0, "bench", "calibrate_white"),
        Act(120.0, "bench", "calibrate_chart"),
        Act(160.0, "physical", "place", TARGET),
        Act(200.0, "bench", "measure_target", TARGET),
    ]


def _mixing(seed: int, variation: float) -> list[Act]:
    """Drops in, stir, sensor on the cup, read: once for every addition."""
    acts = [Act(260.0, "physical", "fresh_cup")]
    for turn, addition in enumerate(additions(seed, variation)):
        start_s = 280.0 + 200.0 * turn
        acts += [
            Act(start_s + 5.0 * i, "physical", "add_drops", (paint, drops))
            for i, (paint, drops) in enumerate(addition.items())
        ]
        acts += [
            Act(start_s + 30.0, "physical", "stir", 40),
            Act(start_s + 70.0, "physical", "place", "cup"),
            Act(start_s + 100.0, "bench", "measure_mix"),
        ]
    return acts


def _coats() -> list[Act]:
    return [
        Act(1_330.0, "physical", "reduce", 150),
        Act(1_340.0, "physical", "stir", 40),
        Act(1_360.0, "physical", "place", None),
        Act(1_380.0, "physical", "place_part", 22.5),
        Act(1_400.0, "bench", "acknowledge"),
        Act(1_440.0, "physical", "fan", True),
        Act(1_500.0, "bench", "start_coat", "tack coat"),
        Act(1_510.0, "physical", "spray", 1.2),
        Act(1_560.0, "physical", "spray", 0.0),
        Act(1_590.0, "bench", "end_coat"),
        Act(1_620.0, "bench", "acknowledge"),
        Act(2_280.0, "bench", "start_coat", "wet coat"),
        Act(2_290.0, "physical", "spray", 2.0),
        Act(2_370.0, "physical", "spray", 0.0),
        Act(2_410.0, "bench", "end_coat"),
        Act(2_820.0, "bench", "acknowledge"),
        Act(3_930.0, "bench", "start_coat", "wet coat"),
        Act(3_940.0, "physical", "spray", 2.7),
        Act(3_990.0, "bench", "acknowledge"),
        Act(4_040.0, "physical", "spray", 0.0),
        Act(4_080.0, "bench", "end_coat"),
        Act(4_140.0, "bench", "acknowledge"),
        Act(4_860.0, "bench", "acknowledge"),
        Act(5_300.0, "physical", "place", "piece"),
        Act(5_700.0, "physical", "fan", False),
        Act(5_800.0, "bench", "acknowledge"),
    ]


def _weather() -> list[Act]:
    """Rain at 20:00, the yard door at 20:10, the fan's bad minute and a half at 20:20."""
    return [
        Act(3_000.0, "physical", "rain"),
        Act(3_600.0, "physical", "yard_door", True),
        Act(3_610.0, "physical", "people", 4),
        Act(4_200.0, "physical", "fan", False),
        Act(4_250.0, "bench", "acknowledge"),
        Act(4_290.0, "physical", "fan", True),
        Act(5_100.0, "physical", "yard_door", False),
        Act(5_110.0, "physical", "people", 2),
    ]

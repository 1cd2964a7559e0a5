"""The bench as a whole: what the chips feel follows what hands do."""

import threading
from collections.abc import Callable

import numpy as np
import pytest

from sprayout.errors import BadInput
from sprayout.sim.spectra import WAVELENGTH_NM, Surface
from sprayout.sim.surroundings import RGB_CHANNELS, SPECTRAL_CHANNELS, Surroundings
from sprayout.sim.world import World


class Hand:
    """A clock moved by hand."""

    def __init__(self) -> None:
        self.t_s = 0.0

    def __call__(self) -> float:
        return self.t_s


@pytest.fixture
def clock() -> Hand:
    return Hand()


@pytest.fixture
def world(clock: Hand) -> World:
    return World(7, clock)


def clear(world: World, t_s: float = 1.0, led_ma: float = 12.0) -> float:
    return world.light("spectral-8", led_ma, t_s)["clear"]


def test_a_world_is_what_the_chips_ask_for(world: World) -> None:
    around: Surroundings = world
    assert tuple(around.light("spectral-8", 12.0, 0.0)) == SPECTRAL_CHANNELS
    assert tuple(around.light("rgb", 12.0, 0.0)) == RGB_CHANNELS
    assert 18.0 < around.air_c(1.0) < 28.0
    assert 30.0 < around.rh_pct(1.0) < 70.0
    assert 18.0 < around.part_c(1.0) < 28.0
    assert abs(around.booth_pressure_pa(1.0)) < 1.0
    assert around.button_down(1.0) is False


def test_surfaces_order_by_how_light_they_are(world: World) -> None:
    seen = []
    for name in ("light trap", "black", "pilot cutter hull blue", "check tile", "white tile"):
        world.place(name)
        seen.append(clear(world))
    assert seen == sorted(seen)
    assert seen[0] < 0.05 * seen[-1]


def test_led_off_leaves_the_ambient_light_of_the_placement(world: World) -> None:
    world.place("white tile")
    lit, dark = clear(world), clear(world, led_ma=0.0)
    assert 0.0 < dark < 0.02 * lit
    world.place(None)
    assert clear(world, led_ma=0.0) > 20 * dark, "a lifted sensor sees the workshop"


def test_placements_differ_a_little_and_an_own_surface_can_be_laid_down(world: World) -> None:
    own = Surface("own", np.full_like(WAVELENGTH_NM, 0.4), unevenness=0.01)
    readings = []
    for _ in range(60):
        world.place(own)
        readings.append(clear(world))
    assert np.std(readings) / np.mean(readings) == pytest.approx(0.01, rel=0.4)
    steady = [clear(world, t_s=1000.0 * (i + 2)) for i in range(2)]
    assert steady[0] == pytest.approx(steady[1], rel=1e-3)


def test_the_led_drifts_as_it_warms(world: World) -> None:
    world.place("white tile")
    cold = clear(world, 10.0)
    for step in range(600):
        warm = clear(world, 10.0 + 0.2 * step)
    assert 0.97 * cold < warm < 0.9995 * cold


def test_the_cup_is_seen_as_it_was_when_the_sensor_was_set_on_it(world: World) -> None:
    world.fresh_cup()
    world.add_drops("ice-van white", 40)
    world.stir()
    world.place("cup")
    white = clear(world)
    world.add_drops("coal-hatch black", 10)
    world.stir()
    assert clear(world) == pytest.approx(white, rel=1e-3)
    world.place("cup")
    assert clear(world) < 0.5 * white


def test_spraying_coats_the_piece_and_empties_the_cup(world: World, clock: Hand) -> None:
    world.fresh_cup()
    world.add_drops("coal-hatch black", 60)
    world.stir()
    before, volume = world.surface("piece").reflectance.mean(), world.cup.volume_ml
    world.spray(1.5)
    clock.t_s = 60.0
    world.spray(0.0)
    assert world.cup.volume_ml == pytest.approx(volume - 1.5)
    assert world.surface("piece").reflectance.mean() < 0.6 * before
    world.place_part(20.0)
    assert world.surface("piece").reflectance.mean() == pytest.approx(before)


def test_fan_door_and_rain_reach_the_probes(world: World, clock: Hand) -> None:
    world.set_fan(True)
    clock.t_s = 120.0
    assert world.booth_pressure_pa(120.0) > 8.0
    dry_board, dry_door = world.rh_pct(120.0), world.door_probe()[1]
    world.start_rain()
    world.open_yard_door()
    world.set_people(5)
    clock.t_s = 3000.0
    assert world.rh_pct(3000.0) > dry_board + 15.0
    assert world.door_probe()[1] > dry_door + 15.0
    clogged = world.booth_pressure_pa(3000.0)
    world.load_filter(10.0)
    assert world.booth_pressure_pa(3000.0) > clogged + 5.0


def test_the_button_is_held_for_a_while(world: World, clock: Hand) -> None:
    clock.t_s = 50.0
    world.press_button(hold_s=0.5)
    assert world.button_down(50.2)
    assert not world.button_down(50.6)


def test_same_seed_same_world() -> None:
    def story(seed: int) -> list[float]:
        clock = Hand()
        world = World(seed, clock)
        out = []
        for t_s, name in ((5.0, "light trap"), (60.0, "white tile"), (90.0, "slate")):
            clock.t_s = t_s
            world.place(name)
            out += [*world.light("spectral-8", 12.0, t_s).values(), world.air_c(t_s)]
        return out

    assert story(3) == story(3)
    assert story(3) != story(4)


def test_many_threads_may_ask_and_act_at_once(world: World, clock: Hand) -> None:
    failures: list[BaseException] = []

    def again(act: Callable[[int], object]) -> None:
        try:
            for i in range(150):
                act(i)
        except BaseException as error:
            failures.append(error)

    def tick(i: int) -> None:
        clock.t_s = float(i)

    acts: list[Callable[[int], object]] = [
        tick,
        lambda i: world.light("spectral-8", 12.0, clock.t_s),
        lambda i: world.air_c(clock.t_s),
        lambda i: world.place("white tile" if i % 2 else None),
        lambda i: world.set_fan(bool(i % 2)),
        lambda i: world.door_probe(),
    ]
    threads = [threading.Thread(target=again, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda w: w.place("nobody's tile"), "wanted one of"),
        (lambda w: w.place("cup"), "empty"),
        (lambda w: w.spray(1.0), "empty"),
        (lambda w: w.press_button(0.0), "hold_s"),
        (lambda w: w.light("spectral-8", 12.0, -5.0), "start its clock"),
        (lambda w: w.air_c(1e7), "start its clock"),
        (lambda w: w.air_c(float("nan")), "start its clock"),
        (lambda w: w.set_people(-1), "people"),
    ],
)
def test_bad_acts_are_refused(world: World, act: Callable[[World], object], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        act(world)


def test_a_bad_seed_is_refused(clock: Hand) -> None:
    with pytest.raises(BadInput, match="seed"):
        World(-1, clock)

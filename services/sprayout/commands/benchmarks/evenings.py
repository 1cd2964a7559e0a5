"""Simulated evenings in a workshop: room air, walls, rain, doors, and a probe with its faults.

Shares no code with the climate room: vapour pressure is Buck's formula (1981, J. Appl. Meteorol.
20, 1527), the room is two boxes (air, walls) for heat and for moisture, and the probe has noise,
slow wander, lag and rounding.  Invented weather, for benchmarks only.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

STEP_S = 10.0
LENGTH_S = 6 * 3_600.0


@dataclass(frozen=True, slots=True)
class Evening:
    """One evening at equal steps of :data:`STEP_S`.

    ``true_margin_k`` is without probe faults; ``door_open_s`` are the moments somebody went
    through; ``film_drop_k`` is how far the film stands below the air.
    """

    time_s: Floats
    true_air_c: Floats
    true_margin_k: Floats
    read_air_c: Floats
    read_rh_pct: Floats
    film_drop_k: float
    door_open_s: tuple[float, ...]


def evening(seed: int) -> Evening:
    """An evening of its own weather, room, visitors and probe."""
    random = np.random.default_rng(seed)
    time_s = np.arange(0.0, LENGTH_S, STEP_S)
    doors = _doors(random)
    outside_c, outside_pa = _weather(random, time_s)
    air_c, vapour_pa = _room(random, time_s, outside_c, outside_pa, doors)
    rh = 100.0 * vapour_pa / _buck_pa(air_c)
    dew_c = _buck_dew_c(vapour_pa)
    # A reducer for which the margin is lost some way into the evening, as far as the weather goes.
    start, end = float((air_c - dew_c)[0]), float((air_c - dew_c)[-360:].min())
    drop = end + random.uniform(0.15, 0.75) * max(start - end, 0.5)
    read_c = _probe(random, air_c, noise=0.04, wander=0.08, rounding=0.01)
    read_rh = np.clip(_probe(random, rh, noise=0.25, wander=0.4, rounding=0.02), 1.0, 100.0)
    return Evening(time_s, air_c, air_c - drop - dew_c, read_c, read_rh, drop, doors)


def _buck_pa(t_c: ArrayLike) -> Floats:
    t_c = np.asarray(t_c, dtype=np.float64)
    return np.asarray(611.21 * np.exp((18.678 - t_c / 234.5) * t_c / (257.14 + t_c)))


def _buck_dew_c(vapour_pa: Floats) -> Floats:
    table_c = np.linspace(-30.0, 50.0, 8_001)
    return np.asarray(np.interp(vapour_pa, _buck_pa(table_c), table_c))


def _weather(random: np.random.Generator, time_s: Floats) -> tuple[Floats, Floats]:
    """Air outside cools after sunset; a front may come, with moister or drier air behind it."""
    hours = time_s / 3_600.0
    cooling = random.uniform(2.0, 9.0) * (1.0 - np.exp(-hours / random.uniform(2.0, 6.0)))
    outside_c = random.uniform(12.0, 24.0) - cooling + _wander(random, time_s.size, 0.3, 1_800.0)
    share = random.uniform(0.45, 0.9)
    vapour = share * _buck_pa(np.full_like(hours, outside_c[0]))
    if random.random() < 0.6:
        middle, width = random.uniform(0.5, 5.0), random.uniform(0.15, 0.8)
        front = 1.0 / (1.0 + np.exp(-(hours - middle) / width))
        vapour = vapour * (1.0 + random.uniform(-0.1, 0.35) * front)
    vapour = vapour * (1.0 + _wander(random, time_s.size, 0.015, 2_400.0))
    return outside_c, np.minimum(vapour, 0.98 * _buck_pa(outside_c))


def _doors(random: np.random.Generator) -> tuple[float, ...]:
    count = random.poisson(2.5)
    return tuple(sorted(random.uniform(600.0, LENGTH_S - 600.0, count).tolist()))


def _room(
    random: np.random.Generator,
    time_s: Floats,
    outside_c: Floats,
    outside_pa: Floats,
    doors: tuple[float, ...],
) -> tuple[Floats, Floats]:
    """Air in the booth: leaks, an open door for a minute or two, walls that give heat and damp."""
    leak = random.uniform(0.3, 1.2) / 3_600.0
    wall_c, wall_pa = outside_c[0] + random.uniform(1.0, 6.0), outside_pa[0] * 1.05
    to_wall_heat, to_wall_damp = (
        1.0 / random.uniform(240.0, 600.0),
        1.0 / random.uniform(1_200.0, 3_600.0),
    )
    wall_loss = 1.0 / random.uniform(2.0, 6.0) / 3_600.0
    wall_damp = 1.0 / random.uniform(3.0, 8.0) / 3_600.0
    source_pa_s = random.uniform(0.0, 60.0) / 3_600.0  # people and wet rags
    open_s = {door: random.uniform(30.0, 150.0) for door in doors}
    gust = random.uniform(5.0, 20.0) / 3_600.0
    air_c, air_pa = wall_c, wall_pa
    out_c, out_pa = np.empty_like(time_s), np.empty_like(time_s)
    for i, now in enumerate(time_s):
        exchange = leak + gust * any(door <= now < door + long for door, long in open_s.items())
        air_c += STEP_S * (exchange * (outside_c[i] - air_c) + to_wall_heat * (wall_c - air_c))
        air_pa += STEP_S * (
            exchange * (outside_pa[i] - air_pa) + to_wall_damp * (wall_pa - air_pa) + source_pa_s
        )
        wall_c += STEP_S * wall_loss * (outside_c[i] - wall_c)
        wall_pa += STEP_S * wall_damp * (air_pa - wall_pa)
        air_pa = min(air_pa, float(_buck_pa(air_c)) * 0.99)
        out_c[i], out_pa[i] = air_c, air_pa
    return out_c, out_pa


def _wander(random: np.random.Generator, count: int, sd: float, time_constant_s: float) -> Floats:
    """First-order wander of standard deviation ``sd``."""
    keep = float(np.exp(-STEP_S / time_constant_s))
    kicks = random.normal(0.0, sd * np.sqrt(1.0 - keep * keep), count)
    out, value = np.empty(count), random.normal(0.0, sd)
    for i, kick in enumerate(kicks):
        value = keep * value + kick
        out[i] = value
    return out


def _probe(
    random: np.random.Generator, truth: Floats, noise: float, wander: float, rounding: float
) -> Floats:
    lag = float(np.exp(-STEP_S / random.uniform(5.0, 25.0)))
    slow, value = np.empty_like(truth), float(truth[0])
    for i, now in enumerate(truth):
        value = lag * value + (1.0 - lag) * float(now)
        slow[i] = value
    read = slow + random.normal(0.0, noise, truth.size)
    read = read + _wander(random, truth.size, wander, 1_200.0)
    return np.asarray(np.round(read / rounding) * rounding)

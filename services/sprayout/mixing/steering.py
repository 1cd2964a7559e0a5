"""The next addition: what to put into the cup now, and when to stop.

A plan is the whole way to the target in whole drops, judged by the expected miss over everything
that is uncertain, by the chance of ending within the tolerance, and by the paint it takes.  It is
poured as a whole unless its 95 % range passes the target in a direction that takes more paint to
come back from than the cup has room for; then only what the low end allows is poured, and the rest
follows after the next reading.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sprayout.mixing.belief import Belief
from sprayout.mixing.goal import Goal
from sprayout.mixing.kubelka_munk import opaque_reflectance
from sprayout.mixing.outlook import Outlook, outlook
from sprayout.mixing.search import Blend, Palette, blends, both_ways, each_once, whole_drops

Array = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Indices = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Limits:
    """Most drops in the cup, most different paints in it."""

    drops_max: int = 200
    paints_max: int = 4


@dataclass(frozen=True, slots=True)
class Tuning:
    """How paint, readings and colour are traded; found by simulation."""

    drop_cost: float = 0.01
    paint_cost: float = 0.06
    fine_enough_de00: float = 0.25
    miss_cost: float = 2.0
    reading_cost: float = 0.08
    enough_chance: float = 0.93
    stop_share: float = 0.65
    guard_sd: float = 1.645
    return_drops: float = 40.0


USUAL = Tuning()


@dataclass(frozen=True, slots=True)
class Plan:
    """Drops to add (paints,), the outlook with them, and what it costs in units of CIEDE2000."""

    added: Whole
    outlook: Outlook
    cost: float


def palette_of(belief: Belief) -> Palette:
    """The paints and the cup as the search wants them."""
    counted = belief.history.drops(len(belief.model.names))
    total = max(round(float(counted.sum())), int(counted.any()))
    if total == 0:
        return Palette(belief.k, belief.s, belief.model.surface)
    volumes = belief.volumes
    return Palette(
        k=belief.k,
        s=belief.s,
        surface=belief.model.surface,
        cup_k=volumes @ belief.k,
        cup_s=volumes @ belief.s,
        cup_drops=total,
        in_cup=tuple(int(p) for p in np.flatnonzero(counted)),
        shift=belief.shift(counted / total),
    )


def plans(
    belief: Belief, goal: Goal, limits: Limits, tuning: Tuning = USUAL, keep: int = 6
) -> list[Plan]:
    """The best additions, the one of least cost first."""
    palette = palette_of(belief)
    drops = candidates(blends(palette, goal, limits.paints_max, keep=6), palette.cup_drops, limits)
    if palette.cup_drops:
        drops = np.concatenate([drops, _larger_cups(belief, palette, goal, limits)])
    drops = each_once(drops)
    if not len(drops):
        return []
    de00 = goal.de00(goal.axis.lab(seen_after(belief, drops)))
    paints = np.count_nonzero(drops + belief.history.drops(drops.shape[1]), axis=1)
    rough = np.maximum(de00, tuning.fine_enough_de00)
    rough = rough + tuning.miss_cost * np.clip(de00 - 0.3 * goal.tolerance_de00, 0.0, 1.0)
    rough = rough + tuning.drop_cost * drops.sum(axis=1) + tuning.paint_cost * paints
    order = np.argsort(rough)[:keep]
    return sorted((plan_of(belief, goal, drops[i], tuning) for i in order), key=lambda p: p.cost)


def plan_of(belief: Belief, goal: Goal, added: Whole, tuning: Tuning = USUAL) -> Plan:
    """These drops, judged."""
    look = outlook(belief, goal, added.astype(float))
    paints = int(np.count_nonzero(added + belief.history.drops(added.size)))
    return Plan(added, look, cost_of(look, int(added.sum()), paints, tuning))


def cost_of(look: Outlook, drops: int, paints: int, tuning: Tuning) -> float:
    """Expected miss, chance of missing the tolerance, paint: one number to compare plans by."""
    miss = max(look.expected_de00, tuning.fine_enough_de00) + tuning.miss_cost * (1 - look.chance)
    return miss + tuning.drop_cost * drops + tuning.paint_cost * paints


def seen_after(belief: Belief, drops: Array | Whole) -> Array:
    """Measured reflectance (..., bands) expected after adding drops (..., paints)."""
    ratio = np.exp(belief.log_ratio(drops.astype(float)))
    return belief.model.surface.seen(opaque_reflectance(ratio))


def candidates(found: list[Blend], cup_drops: int, limits: Limits) -> Whole:
    """Whole-drop additions near the best blends of each size, each once."""
    totals = _totals(cup_drops, limits.drops_max)
    taken: dict[int, int] = {}
    some: list[Whole] = []
    for blend in sorted(found, key=lambda blend: blend.de00):
        size = len(blend.paints)
        taken[size] = taken.get(size, 0) + 1
        if blend.paints and taken[size] <= 6:
            some.append(whole_drops(blend, totals, cup_drops, limits.drops_max))
    empty = np.zeros((0, found[0].shares.size if found else 0), dtype=np.int64)
    return np.concatenate([empty, *some])


def _larger_cups(belief: Belief, palette: Palette, goal: Goal, limits: Limits) -> Whole:
    """Additions that make a larger cup of the right shares out of what is in this one.

    The way on when one drop is too much: the same paints again, in better proportion.
    """
    fresh = replace(palette, cup_k=None, cup_s=None, cup_drops=0, in_cup=())
    in_cup = set(palette.in_cup)
    size = max(len(in_cup), limits.paints_max)
    wanted = [b for b in blends(fresh, goal, size, keep=8, with_all=palette.in_cup) if b.paints]
    volumes = belief.volumes
    some = [np.zeros((0, volumes.size), dtype=np.int64)]
    for blend in sorted(wanted, key=lambda blend: blend.de00)[:8]:
        needed = float(np.max(volumes / np.maximum(blend.shares, 1e-9)))
        totals = _totals(palette.cup_drops, limits.drops_max)
        totals = totals[totals > needed - 2]
        exact = totals[:, None] * blend.shares - volumes
        ways = both_ways(exact[:, list(blend.paints)])
        full = np.zeros((len(ways), volumes.size), dtype=np.int64)
        full[:, list(blend.paints)] = ways
        total = full.sum(axis=1)
        some.append(full[(total > 0) & (total + palette.cup_drops <= limits.drops_max)])
    return np.concatenate(some)


def _totals(cup_drops: int, drops_max: int) -> Array:
    """Cup sizes worth trying: every one while small, then in steps of a few per cent."""
    room = max(drops_max - cup_drops, 0)
    steps = np.unique(np.round(np.geomspace(1, max(room, 1), 70)))
    small = np.arange(1, min(room, 40) + 1)
    return np.asarray(cup_drops + np.union1d(steps, small), dtype=float)


def guarded(
    belief: Belief, goal: Goal, plan: Plan, limits: Limits, tuning: Tuning = USUAL
) -> Whole:
    """As much of the plan as cannot pass the target beyond the cup's means to come back."""
    here = np.flatnonzero(plan.added)
    held_in_cup = belief.history.drops(plan.added.size)
    total = float(plan.added.sum() + held_in_cup.sum())
    log_sd = amount_uncertainty(belief, goal, plan, here)
    # Too much of one paint is mended by more of all the others, in the same proportion.
    back = total * np.expm1(tuning.guard_sd * log_sd)
    room = min(limits.drops_max - total, tuning.return_drops)
    lead = int(here[np.argmax((plan.added + held_in_cup)[here])])
    dose = plan.added.copy()
    for paint, way_back, sd in zip(here, back, log_sd, strict=True):
        if paint != lead and way_back > room:
            whole = plan.added[paint] + held_in_cup[paint]
            low = whole * np.exp(-tuning.guard_sd * sd) - held_in_cup[paint]
            dose[paint] = max(int(low), 0)
    return dose if _is_a_step(belief, goal, dose) else plan.added


def _is_a_step(belief: Belief, goal: Goal, dose: Whole) -> bool:
    """Whether the held-back dose still goes towards the target."""
    if not dose.any():
        return False
    if belief.history.doses == 0:
        return True
    after = seen_after(belief, np.stack([np.zeros_like(dose), dose]))
    now, then = goal.de00(goal.axis.lab(after))
    return bool(then < now - 0.1)


def amount_uncertainty(belief: Belief, goal: Goal, plan: Plan, here: Indices) -> Array:
    """Standard deviation of ln of the right amount of each paint of the plan, (len(here),)."""
    step = 0.02
    more = np.repeat(plan.added[None, :].astype(float), here.size, axis=0)
    cup = belief.history.drops(plan.added.size)
    more[np.arange(here.size), here] += step * (more + cup)[np.arange(here.size), here]
    labs = goal.axis.lab(seen_after(belief, more))
    slope = ((labs - plan.outlook.lab) / step) @ goal.root.T
    length = np.maximum(np.linalg.norm(slope, axis=1), 1e-6)
    along = slope / length[:, None]
    form = goal.root @ plan.outlook.covariance @ goal.root.T
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", along, form, along), 0.0))
    return np.asarray(np.minimum(sd / length, 1.5))

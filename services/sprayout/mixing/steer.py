"""A cup being mixed towards a target: the one place that holds shelf, target and history together.

:class:`Steering` is a value; each act returns a new one.  ``add`` and ``read`` record what a person
did; ``advise`` says what to do next; ``what_if`` answers *what would 3 drops of this do?*
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from sprayout.colour.difference import ciede2000
from sprayout.colour.tristimulus import Spectrum
from sprayout.errors import BadInput
from sprayout.mixing.aim import AS_READ, Aim
from sprayout.mixing.axis import Sight, sight_of
from sprayout.mixing.belief import Belief, CupHistory, Pour, learn
from sprayout.mixing.fit import ShelfModel, fit_shelf
from sprayout.mixing.goal import Goal, goal_of
from sprayout.mixing.missing import Missing, missing_colour
from sprayout.mixing.outlook import Outlook, outlook, outlook_of
from sprayout.mixing.steering import USUAL, Limits, Plan, Tuning, cost_of, guarded, plan_of, plans
from sprayout.mixing.values import Shelf, Target, check_spectrum

Array = npt.NDArray[np.float64]
Reason = Literal["matched", "unreachable", "cup full"]
Lab = tuple[float, float, float]

HOPELESS_STRAIN = 12.0
"""Chi-squared of three degrees of freedom exceeds this once in 140 times."""
WRONG_CUP_DE00, WRONG_CUP_SPREADS = 18.0, 4.0
EMPTY = CupHistory()
_PATIENCE = 8
"""Readings after which a hopeful addition must also be worth its paint."""
_DROPS_ALLOWED = 100_000


@dataclass(frozen=True, slots=True)
class Advice:
    """The answer after a reading.

    ``add`` is empty when ``done``.  ``predicted`` is the outlook with ``add`` in the cup;
    ``now_de00`` what was last read; ``nearest_de00`` and ``missing`` stand where the target is out
    of reach.
    """

    add: tuple[tuple[str, int], ...]
    predicted_lab: Lab
    predicted_de00: float
    predicted_u95_de00: float
    now_de00: float | None
    total_drops: int
    done: bool
    reason: Reason | None
    nearest_de00: float | None = None
    missing: Missing | None = None


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What an addition would do: colour, distance from the target and its 95 % radius."""

    lab: Lab
    de00: float
    u95_de00: float
    total_drops: int


@dataclass(frozen=True, slots=True)
class Steering:
    """Shelf, target, limits, and everything counted and read so far."""

    shelf: Shelf
    target: Target
    limits: Limits
    model: ShelfModel
    goal: Goal
    history: CupHistory = EMPTY
    tuning: Tuning = USUAL
    aim: Aim = AS_READ
    recipe: tuple[tuple[str, int], ...] = ()

    @property
    def total_drops(self) -> int:
        """Drops in the cup; what was weighed counts as the drops it comes to."""
        return round(float(self.history.drops(len(self.shelf.names)).sum()))

    def add(self, dose: Mapping[str, float]) -> Steering:
        """The state after these drops were counted in, or what was weighed as drops."""
        for paint, drops in dose.items():
            if paint not in self.shelf.names:
                raise BadInput(f"add: {paint!r} is not on the shelf; name one of its paints")
            if not 0 < drops <= _DROPS_ALLOWED:
                raise BadInput(
                    f"add: {drops:g} drops of {paint}, wanted 1 or more; count them again"
                )
        number = self.history.doses
        poured = tuple(
            Pour(self.shelf.names.index(paint), float(drops), number)
            for paint, drops in dose.items()
        )
        return replace(self, history=replace(self.history, pours=self.history.pours + poured))

    def read(self, spectrum: Spectrum) -> Steering:
        """The state after the cup was read; refuses a reading that cannot be of this cup."""
        check_spectrum(spectrum, "reading")
        if not self.history.pours:
            raise BadInput("reading: the cup is empty; add the paint first, then read it")
        state = replace(self, goal=_goal(self.target, self.model, self.aim, sight_of(spectrum)))
        state._check_cup(spectrum)
        readings = (*state.history.readings, (state.history.doses - 1, spectrum))
        return replace(state, history=replace(state.history, readings=readings))

    def belief(self) -> Belief:
        """What is known now, with every reading learned from."""
        return learn(self.model, self.history)

    def now_de00(self) -> float | None:
        """CIEDE2000 of the last reading from the target; None when nothing was read since."""
        if not self.history.readings or self.history.readings[-1][0] != self.history.doses - 1:
            return None
        return float(self.goal.de00(self.goal.lab_of(self.history.readings[-1][1])))

    def what_if(self, dose: Mapping[str, float]) -> WhatIf:
        """The colour with these drops added, without adding them."""
        after = self.add(dose) if dose else self
        added = np.zeros(len(self.shelf.names))
        for paint, drops in dose.items():
            added[self.shelf.names.index(paint)] = drops
        if not after.total_drops:
            raise BadInput("what if: the cup is empty and nothing is added; name paint and drops")
        look = outlook(self.belief(), self.goal, added)
        return WhatIf(_lab(look), look.de00, look.u95_de00, after.total_drops)

    def dry_look(self, dose: Mapping[str, float]) -> WhatIf:
        """The colour with these drops added, once the shifts of the aim have come about.

        Judged against the target itself; the radius holds what is not known of the shifts.
        """
        added = np.zeros(len(self.shelf.names))
        for paint, drops in dose.items():
            added[self.shelf.names.index(paint)] = drops
        belief = self.belief()
        seen = self.history.readings[-1:]
        sight = sight_of(seen[0][1]) if seen else None
        goal = goal_of(self.target, self.model.surface, self.model.prior, sight)
        spread = belief.covariance(added) + self.aim.sd**2
        look = outlook_of(belief, goal, belief.log_ratio(added) + self.aim.step, spread)
        total = round(float(added.sum())) + self.total_drops
        return WhatIf(_lab(look), look.de00, look.u95_de00, total)

    def _check_cup(self, seen: Spectrum) -> None:
        """Any mixture of these paints near the counted one may be; another cup may not."""
        look = outlook(self.belief(), self.goal, np.zeros(len(self.shelf.names)))
        apart = float(ciede2000(look.lab, self.goal.lab_of(seen)))
        if apart > max(WRONG_CUP_DE00, WRONG_CUP_SPREADS * look.u95_de00):
            raise BadInput(
                f"reading: it is {apart:.0f} CIEDE2000 from what this cup should show, wanted "
                f"within {max(WRONG_CUP_DE00, WRONG_CUP_SPREADS * look.u95_de00):.0f}; check that "
                "it is the right cup, or enter the drops that were not counted"
            )


def _goal(target: Target, model: ShelfModel, aim: Aim, sight: Sight | None = None) -> Goal:
    """The goal of the cup as it is read: the target before the shifts that are still to come."""
    return goal_of(aim.before(target), model.surface, model.prior, sight)


def start(
    shelf: Shelf,
    target: Target,
    limits: Limits | None = None,
    model: ShelfModel | None = None,
    aim: Aim = AS_READ,
) -> Steering:
    """An empty cup; ``model`` spares the fit where the shelf was fitted before.

    ``aim``: shifts that the colour still goes through after it was read; none by default.
    """
    limits = limits or Limits()
    if not 1 <= limits.drops_max <= _DROPS_ALLOWED:
        raise BadInput(f"drops_max: got {limits.drops_max}, wanted 1 to {_DROPS_ALLOWED}")
    if limits.paints_max < 1:
        raise BadInput(f"paints_max: got {limits.paints_max}, wanted 1 or more")
    model = model or fit_shelf(shelf)
    return Steering(shelf, target, limits, model, _goal(target, model, aim), aim=aim)


def advise(state: Steering) -> Advice:
    """The next addition, or the reason to stop."""
    belief = state.belief()
    now = state.now_de00()
    nothing = np.zeros(len(state.shelf.names))
    here = None
    if state.history.pours:
        here = outlook(belief, state.goal, nothing)
        if now is not None and _close_enough(state, here, now):
            return _stop(state, belief, here, now, "matched", None)
    if (left := _left_of_recipe(state)) is not None:
        plan = plan_of(belief, state.goal, left, state.tuning)
        dose = guarded(belief, state.goal, plan, state.limits, state.tuning)
        return _go_on(state, belief, dose, now, plan)
    room = state.limits.drops_max - state.total_drops
    found = plans(belief, state.goal, state.limits, state.tuning) if room > 0 else []
    best = found[0] if found else None
    if best is None or not _worth_it(state, belief, best, here):
        return _give_up(state, belief, here, now, best)
    dose = guarded(belief, state.goal, best, state.limits, state.tuning)
    return _go_on(state, belief, dose, now, best)


def _left_of_recipe(state: Steering) -> npt.NDArray[np.int64] | None:
    """Whole drops (paints,) that the chosen recipe still asks for; None once the cup was read.

    None too where the cup holds what the recipe does not: then the search goes on from the cup.
    """
    if not state.recipe or state.history.readings:
        return None
    wanted = np.zeros(len(state.shelf.names))
    for paint, drops in state.recipe:
        wanted[state.shelf.names.index(paint)] = drops
    left = wanted - state.history.drops(len(state.shelf.names))
    whole = np.round(left).astype(np.int64)
    return whole if whole.any() and left.min() > -0.5 else None


def _close_enough(state: Steering, here: Outlook, now_de00: float) -> bool:
    tolerance = state.goal.tolerance_de00
    near = state.tuning.stop_share * tolerance
    # A noisy sensor: what all readings together say counts, but the last must not contradict it.
    close = now_de00 <= tolerance and min(now_de00, here.de00) <= near
    return close and here.chance >= state.tuning.enough_chance


def _worth_it(state: Steering, belief: Belief, best: Plan, here: Outlook | None) -> bool:
    """Whether the best addition gains more than paint and one more reading cost."""
    if here is None:
        return not (_hopeless(state, best) and _hopeless(state, _roomy(state, belief)[0]))
    now = state.now_de00()
    tolerance = state.goal.tolerance_de00
    hopeful = best.outlook.de00 < 0.7 * tolerance
    if now is not None and now > tolerance and hopeful and len(state.history.readings) < _PATIENCE:
        return True
    paints = int(np.count_nonzero(state.history.drops(len(state.shelf.names))))
    return best.cost < cost_of(here, 0, paints, state.tuning) - state.tuning.reading_cost


def _hopeless(state: Steering, plan: Plan) -> bool:
    far = plan.outlook.de00 > 1.5 * state.goal.tolerance_de00
    return far and plan.outlook.strain > HOPELESS_STRAIN


def _roomy(state: Steering, belief: Belief) -> list[Plan]:
    """Plans for a cup ten times the size, whatever paint they take; the closest first."""
    wide = replace(state.limits, drops_max=10 * state.limits.drops_max)
    free = replace(state.tuning, drop_cost=0.0)
    return sorted(plans(belief, state.goal, wide, free), key=lambda plan: plan.outlook.de00)


def _go_on(
    state: Steering, belief: Belief, dose: npt.NDArray[np.int64], now: float | None, best: Plan
) -> Advice:
    look = plan_of(belief, state.goal, dose).outlook
    names = state.shelf.names
    order = _light_first(state.model, np.flatnonzero(dose))
    return Advice(
        add=tuple((names[p], int(dose[p])) for p in order),
        predicted_lab=_lab(look),
        predicted_de00=look.de00,
        predicted_u95_de00=look.u95_de00,
        now_de00=now,
        total_drops=state.total_drops + int(dose.sum()),
        done=False,
        reason=None,
        nearest_de00=best.outlook.de00 if _hopeless(state, best) else None,
    )


def _light_first(model: ShelfModel, paints: npt.NDArray[np.intp]) -> list[int]:
    """Common practice: the light paint goes in first, the dark by the drop."""
    lightness = model.lab(np.eye(len(model.names)))[:, 0]
    return sorted((int(p) for p in paints), key=lambda p: -lightness[p])


def _give_up(
    state: Steering, belief: Belief, here: Outlook | None, now: float | None, best: Plan | None
) -> Advice:
    """Matched after all, no room, or out of reach with these paints."""
    reached = here is not None and (here.de00 if now is None else now) <= state.goal.tolerance_de00
    if here is not None and reached:
        return _stop(state, belief, here, now, "matched", None)
    more = _roomy(state, belief)
    look = here or (best or more[0]).outlook
    nearest = min([look.de00, *(plan.outlook.de00 for plan in more)])
    full = nearest <= state.goal.tolerance_de00
    return _stop(state, belief, look, now, "cup full" if full else "unreachable", nearest)


def _stop(
    state: Steering,
    belief: Belief,
    look: Outlook,
    now: float | None,
    reason: Reason,
    nearest: float | None,
) -> Advice:
    lacking = None
    if reason == "unreachable":
        lacking = missing_colour(belief, state.goal, state.limits)
    return Advice(
        add=(),
        predicted_lab=_lab(look),
        predicted_de00=look.de00,
        predicted_u95_de00=look.u95_de00,
        now_de00=now,
        total_drops=state.total_drops,
        done=True,
        reason=reason,
        nearest_de00=nearest,
        missing=lacking,
    )


def _lab(look: Outlook) -> Lab:
    lightness, a, b = (float(v) for v in look.lab)
    return lightness, a, b

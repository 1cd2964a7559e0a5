"""Flags as a state machine: inputs at a moment in, the new state and what happened out.

The station calls :func:`evaluate` about once a second with its own clock.  Nothing flickers: a
level ends only beyond its hysteresis, must hold all through ``raise_after_ms`` before it rises
and all through ``lower_after_ms`` before it falls.  *Unknown* comes at once (the age limit of a
reading has been the dwell) and leaves by the same rules as any other level.

Acknowledgement is the station's own record beside the flag; it lowers nothing here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sprayout.climate.flag_rules import RULES, BoothInputs, FlagRule, Judgement, Measured
from sprayout.climate.levels import Level

__all__ = [
    "BoothInputs",
    "FlagCleared",
    "FlagEvent",
    "FlagLevelChanged",
    "FlagRaised",
    "FlagState",
    "Level",
    "Measured",
    "Standing",
    "evaluate",
    "initial_state",
]


@dataclass(frozen=True, slots=True)
class Standing:
    """How one flag stands; ``level`` is ``None`` only before the first evaluation."""

    key: str
    title: str
    level: Level | None = None
    last_known: Level = Level.NONE
    since_ms: int | None = None
    words: str = ""
    rests_on: tuple[str, ...] = ()
    would_help: str = ""
    pending: Level | None = None
    pending_since_ms: int | None = None


@dataclass(frozen=True, slots=True)
class FlagState:
    """All flags of a bench."""

    standings: tuple[Standing, ...]

    def standing(self, key: str) -> Standing:
        """The flag of that key; ``KeyError`` if there is none."""
        for standing in self.standings:
            if standing.key == key:
                return standing
        raise KeyError(key)

    def raised(self) -> tuple[Standing, ...]:
        """Flags that are not *none*, worst first."""
        up = [s for s in self.standings if s.level not in (None, Level.NONE)]
        return tuple(sorted(up, key=lambda s: -_rank(s.level)))


@dataclass(frozen=True, slots=True)
class FlagRaised:
    """A flag came up."""

    key: str
    title: str
    level: Level
    at_ms: int
    words: str
    rests_on: tuple[str, ...]
    would_help: str


@dataclass(frozen=True, slots=True)
class FlagLevelChanged:
    """A flag that was up has become graver, milder, or cannot be judged any more."""

    key: str
    title: str
    level: Level
    was: Level
    at_ms: int
    words: str
    rests_on: tuple[str, ...]
    would_help: str


@dataclass(frozen=True, slots=True)
class FlagCleared:
    """A flag went down."""

    key: str
    title: str
    was: Level
    at_ms: int
    words: str


FlagEvent = FlagRaised | FlagLevelChanged | FlagCleared


def initial_state(rules: Iterable[FlagRule] = RULES) -> FlagState:
    """State of a bench that has not been looked at yet; nothing in it reads as good."""
    return FlagState(tuple(Standing(rule.key, rule.title) for rule in rules))


def evaluate(
    state: FlagState, inputs: BoothInputs, now_ms: int, rules: Sequence[FlagRule] = RULES
) -> tuple[FlagState, list[FlagEvent]]:
    """Judge every flag at ``now_ms``; gives the new state and what happened, in rule order."""
    standings: list[Standing] = []
    events: list[FlagEvent] = []
    for rule in rules:
        before = state.standing(rule.key)
        after = _step(rule, before, rule.judge(inputs), now_ms)
        standings.append(after)
        events.extend(_happened(before, after, now_ms))
    return FlagState(tuple(standings)), events


def _step(rule: FlagRule, standing: Standing, judgement: Judgement, now_ms: int) -> Standing:
    target = judgement.level(standing.last_known)
    spoken = replace(
        standing,
        words=_words(judgement, target, standing.last_known),
        rests_on=judgement.rests_on,
        would_help=judgement.would_help,
    )
    if target == standing.level:
        calm = spoken.pending is None
        return spoken if calm else replace(spoken, pending=None, pending_since_ms=None)
    if standing.level is None or target is Level.UNKNOWN:
        return _settle(spoken, target, now_ms)
    after = _wait(rule, spoken, target, now_ms)
    if after.level is not None and target.rank < after.level.rank:
        return replace(after, words=f"{after.words}; {_easing(rule, after.level)}")
    return after


def _easing(rule: FlagRule, level: Level) -> str:
    """Why a flag still stands although the figure beside it looks better."""
    seconds = rule.lower_after_ms // 1000
    long = f"{seconds // 60} min" if seconds >= 60 else f"{seconds} s"
    return f"better now, it stays at {level} until that has lasted {long}"


def _wait(rule: FlagRule, standing: Standing, target: Level, now_ms: int) -> Standing:
    """Count the dwell; what is adopted at its end is the level that held all through it."""
    assert standing.level is not None
    reference = standing.last_known if standing.level is Level.UNKNOWN else standing.level
    rising = target.rank > reference.rank
    pending, since = standing.pending, standing.pending_since_ms
    same_way = pending is not None and (pending.rank > reference.rank) == rising
    if since is None or pending is None or not same_way or now_ms < since:
        pending, since = target, now_ms
    else:
        pending = (min if rising else max)(pending, target, key=lambda level: level.rank)
    staying = standing.level is Level.UNKNOWN and target is reference
    dwell = rule.raise_after_ms if rising or staying else rule.lower_after_ms
    if now_ms - since >= dwell:
        return _settle(standing, pending, now_ms)
    return replace(standing, pending=pending, pending_since_ms=since)


def _settle(standing: Standing, level: Level, now_ms: int) -> Standing:
    known = standing.last_known if level is Level.UNKNOWN else level
    return replace(
        standing,
        level=level,
        last_known=known,
        since_ms=now_ms,
        pending=None,
        pending_since_ms=None,
    )


def _words(judgement: Judgement, target: Level, last_known: Level) -> str:
    if target is Level.UNKNOWN and last_known is not Level.NONE:
        return f"{judgement.words}; it stood at {last_known} before"
    return judgement.words


def _happened(before: Standing, after: Standing, now_ms: int) -> list[FlagEvent]:
    was, level = before.level or Level.NONE, after.level
    if level is None or level == was:
        return []
    if level is Level.NONE:
        return [FlagCleared(after.key, after.title, was, now_ms, after.words)]
    told = (after.words, after.rests_on, after.would_help)
    if was is Level.NONE:
        return [FlagRaised(after.key, after.title, level, now_ms, *told)]
    return [FlagLevelChanged(after.key, after.title, level, was, now_ms, *told)]


def _rank(level: Level | None) -> int:
    return -1 if level is None else level.rank

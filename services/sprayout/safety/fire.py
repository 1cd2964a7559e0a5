"""How near vapour in air comes to its lower explosive limit (LEL), and the 25 % rule.

Exhaust from spraying stays at or below 25 % of the LEL: 29 CFR 1910.94(c)(6)(ii), International
Mechanical Code 502.7.3.3.  Mist can ignite below the flash point, so none of this clears a
sprayed product; nor does a low share say anything about breathing.
"""

from collections.abc import Sequence

from sprayout.errors import BadInput
from sprayout.safety.assessment import Level
from sprayout.safety.given import above_zero, fraction, not_below_zero
from sprayout.safety.wording import said

RULE_PCT = 25.0
CAUTION_PCT, STOP_PCT = 5.0, 10.0
"""Our own steps under the rule (project choice): 10 % is the shipyard rule and many programmes'."""


def lower_explosive(lel_pct: float) -> float:
    """An LEL in percent by volume, between 0 and 100; outside that, ``BadInput``."""
    lel = above_zero("lower explosive limit", lel_pct, "%", "take it from the data sheet")
    if lel >= 100:
        raise BadInput(
            f"lower explosive limit: got {lel:g} %, wanted under 100; enter percent by volume"
        )
    return lel


def percent_of_lel(ppm: float, lel_pct: float) -> float:
    """100 * (ppm / 1e4) / LEL."""
    return not_below_zero("concentration", ppm, "ppm") / (lower_explosive(lel_pct) * 100.0)


def mixture_lel_pct(parts: Sequence[tuple[float, float]]) -> float:
    """LEL of mixed vapours from (share of the vapour, LEL): 1 / sum(y/LEL) (Le Chatelier).

    The shares are of the air-free vapour and are brought to a sum of 1.
    """
    if not parts:
        raise BadInput("mixture: got no parts, wanted share and LEL of each; name the solvents")
    shares = [not_below_zero("share", share) for share, _ in parts]
    total = above_zero("sum of shares", sum(shares))
    weighed = (s / lower_explosive(lel) for s, (_, lel) in zip(shares, parts, strict=True))
    return total / sum(weighed)


def air_per_vapour(lel_pct: float, share_of_lel: float = RULE_PCT / 100.0) -> float:
    """Volumes of air per volume of vapour: (100 - LEL) / (share * LEL).

    With the share of 25 % this is OSHA's 4 (100 - LEL) / LEL, 1910.94(c)(6)(ii)(a).
    """
    lel = lower_explosive(lel_pct)
    share = above_zero("share of the LEL", fraction("share of the LEL", share_of_lel))
    return (100.0 - lel) / (share * lel)


def target_ppm(lel_pct: float, divide_by: float = 4.0, hot_factor: float = 1.0) -> float:
    """The concentration to dilute to: LEL * B / S_f (ACGIH, dilution for fire and explosion).

    ``divide_by`` is S_f (4 gives 25 % of the LEL); ``hot_factor`` is B, 1 to 250 °F, 0.7 above.
    """
    return lower_explosive(lel_pct) * 1e4 * hot_factor / above_zero("divisor", divide_by)


def level_of(percent: float) -> Level:
    """Our steps: over 5 % a caution, over 10 % stop and ventilate, over 25 % against the rule."""
    if percent > RULE_PCT:
        return Level.REFUSE
    if percent > STOP_PCT:
        return Level.STOP
    return Level.CAUTION if percent > CAUTION_PCT else Level.NOTHING_FOUND


def words_of(percent: float) -> str:
    """The share of the LEL, said beside the rule."""
    against = "over" if percent > RULE_PCT else "under"
    return (
        f"{said(percent)} % of the lower explosive limit, {against} the 25 % that fire rules allow "
        "in exhaust. It says nothing about breathing, and mist can ignite below the flash point."
    )

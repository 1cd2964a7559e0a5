"""A colour reading judged against the target: what the page shows large."""

from dataclasses import dataclass

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import ScreenColour, lab_to_srgb
from sprayout.colour.profile import ColourEstimate
from sprayout.colour.tristimulus import white_point
from sprayout.colour.words import verdict, words
from sprayout.journal.records import Lab, Target, White


@dataclass(frozen=True, slots=True)
class JudgedColour:
    """One estimate beside the target; the judgement is None where there is no target."""

    at_ms: int
    device: str
    white: White
    lab: Lab
    u95_de00: float
    clipped: bool
    warnings: tuple[str, ...]
    de00: float | None = None
    verdict: str | None = None
    plain: str | None = None
    trade: tuple[str, ...] = ()


def judge(estimate: ColourEstimate, target: Target | None, at_ms: int, device: str) -> JudgedColour:
    """Return the estimate in the target's own white, with the difference in words."""
    white: White = target.white if target else "d65-10"
    lab = lab_of(estimate, white)
    seen = JudgedColour(
        at_ms, device, white, lab, estimate.u95_de00, bool(estimate.clipped), estimate.warnings
    )
    if target is None:
        return seen
    de00 = float(ciede2000(target.lab, lab))
    said = words(target.lab, lab)
    return JudgedColour(
        seen.at_ms, seen.device, white, lab, seen.u95_de00, seen.clipped, seen.warnings,
        de00, verdict(de00, target.tolerance_de00, estimate.u95_de00), said.plain, said.trade,
    )  # fmt: skip


def lab_of(estimate: ColourEstimate, white: White) -> Lab:
    """Return the estimate's Lab for that white."""
    chosen = estimate.lab_d65_10 if white == "d65-10" else estimate.lab_d50_2
    lightness, a, b = (float(v) for v in chosen)
    return lightness, a, b


def on_screen(lab: Lab, white: White) -> ScreenColour:
    """Return the colour a screen can show of it, with a mark where it cannot."""
    point = white_point("d65", 10) if white == "d65-10" else white_point("d50", 2)
    return lab_to_srgb(lab, point)

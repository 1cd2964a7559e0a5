"""One coat judged as a whole: product, booth, fan, vapour, fire, breathing, mist, protection.

What is not given is *cannot assess* for its finding and so for the whole; a product that only
professionals should spray stops everything else.  Even with every input there and low, the whole
is never better than a caution: an estimate is no approval.
"""

from dataclasses import dataclass, replace

from sprayout.safety import booth as booths
from sprayout.safety.assessment import Finding, Level, worst
from sprayout.safety.booth import Booth
from sprayout.safety.booth_air import judge_explosive, judge_mist
from sprayout.safety.breathing import Room, judge_breathing
from sprayout.safety.cartridge import CartridgeLog
from sprayout.safety.cautions import ORDER_OF_AUTHORITY, Caution, for_spraying, region_named
from sprayout.safety.clearing import judge_purge
from sprayout.safety.given_off import judge_given_off
from sprayout.safety.interlock import FanState
from sprayout.safety.load import Coat, Product, vapour_load
from sprayout.safety.protection import judge_change_out, judge_respirator
from sprayout.safety.refusals import Refusal, for_substance, in_words, named
from sprayout.safety.substances import known
from sprayout.safety.tables import sources

_FIRE = sources(("osha_107",))


@dataclass(frozen=True, slots=True)
class Assessment:
    """All findings, the worst of their levels, and the cautions that always stand beside them."""

    level: Level
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]
    order_of_authority: tuple[str, ...]


def assess(
    product: Product | None,
    coat: Coat | None,
    booth: Booth | None,
    room: Room | None,
    fan: FanState | None,
    region: str = "us",
    rh_pct: float | None = None,
    log: CartridgeLog | None = None,
) -> Assessment:
    """Judge one coat from what is known; any argument may be ``None``.

    ``rh_pct`` is the humidity read in the booth, for the cartridge; ``log`` the pair in use.
    A refusal (see ``refusals``) leaves out every figure of exposure.
    """
    name = region_named(region)
    findings = [*_product(product), *_booth(booth), _fan(fan)]
    if worst(findings[:1]) is not Level.REFUSE:
        findings += _air(product, coat, booth, room, name, rh_pct, log)
    return Assessment(worst(findings), tuple(findings), for_spraying(name), ORDER_OF_AUTHORITY)


def _product(product: Product | None) -> list[Finding]:
    """What is in the batch: a refusal, an open question, or nothing found."""
    if product is None:
        return [_refusal(named("unknown_product"))]
    if product.two_part:
        return [_refusal(named("isocyanate"))]
    refused = in_words(product.name, product.label, *product.pigments)
    refused += tuple(filter(None, (_refused_solvent(s.name) for s in product.solvents)))
    if refused:
        return [_refusal(refused[0])]
    if not product.solvents or product.unknown_bottles:
        return [_unknown(product)]
    if product.two_part is None:
        words = "Not known whether this paint takes a hardener (two-part, isocyanate): say so."
        help_ = ("read the label: hardener, 2K, isocyanate? Then enter yes or no",)
        return [Finding("product", Level.CANNOT_ASSESS, words, would_help=help_)]
    words = f"{product.name}: nothing in what was entered calls for a professional alone."
    return [Finding("product", Level.NOTHING_FOUND, words)]


def _unknown(product: Product) -> Finding:
    """Cannot assess, and of which bottle nobody has said what is in it."""
    found = _refusal(named("unknown_product"))
    which = ", ".join(product.unknown_bottles)
    words = f"{found.words} It is {which}." if which else found.words
    return replace(found, words=words)


def _refused_solvent(name: str) -> Refusal | None:
    found = in_words(name)
    if found:
        return found[0]
    substance = known(name)
    return for_substance(substance) if substance else None


def _refusal(refusal: Refusal) -> Finding:
    unknown = refusal.key in ("unknown_product", "missing_limit")
    level = Level.CANNOT_ASSESS if unknown else Level.REFUSE
    return Finding("product", level, refusal.words(), would_help=(refusal.way,))


def _booth(booth: Booth | None) -> list[Finding]:
    if booth is None:
        return [booths.judge_face(None), booths.judge_exhaust(None)]
    return [booths.judge_booth_face(booth), booths.judge_exhaust(booth.exhaust)]


def _fan(fan: FanState | None) -> Finding:
    if fan is None or fan.state == "unknown":
        words = fan.words if fan else "Fan unknown: no reading. Look at it before you spray."
        look = ("an air speed, pressure or power sensor at the fan", "hold a thread in the face")
        return Finding("fan", Level.CANNOT_ASSESS, words, _FIRE, would_help=look)
    level = Level.NOTHING_FOUND if fan.confirmed else Level.STOP
    help_ = () if fan.confirmed else ("switch the fan on", "look at filter, duct and flap")
    return Finding("fan", level, fan.words, _FIRE, would_help=help_)


def _air(
    product: Product | None,
    coat: Coat | None,
    booth: Booth | None,
    room: Room | None,
    region: str,
    rh_pct: float | None,
    log: CartridgeLog | None,
) -> list[Finding]:
    """Vapour, fire, breathing, mist, protection; *cannot assess* where an input is missing."""
    load = vapour_load(product, coat) if product and coat else None
    fresh = _fresh_air_m3h(booth, room)
    breathing = judge_breathing(product, load, coat, room, fresh, region)
    return [
        *judge_given_off(load, coat, room, fresh),
        judge_explosive(load, booth, room),
        *breathing,
        judge_mist(product, coat, booth, region),
        judge_respirator(load, breathing, region),
        judge_change_out(load, coat, room, fresh, rh_pct, log),
        judge_purge(booth, room),
    ]


def _fresh_air_m3h(booth: Booth | None, room: Room | None) -> float | None:
    """Air that leaves the room: a ducted booth's and the room's own; a filter's does not count."""
    if booth is None or room is None or booth.exhaust is None:
        return None
    if booth.exhaust == "recirculating":
        return room.fresh_air_m3h
    if booth.flow_m3h is None:
        return None
    return booth.flow_m3h + (room.fresh_air_m3h or 0.0)

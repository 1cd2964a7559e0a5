"""The board looks at itself: each part answers, the LED lights, the readings make sense."""

from checks import crc8
from host_requests import ROLES
from registers import PartFault

_LIMITS = {
    "air_temperature": (-20, 60),
    "relative_humidity": (0, 100),
    "part_temperature": (-40, 120),
    "booth_pressure": (-600, 600),
}


def self_test(program):
    """The work of a ``self_test`` request: every check that applies, in words."""
    checks = [_check("check sums", crc8(b"\xbe\xef", 0x31, 0xFF) == 0x92, "BEEF gives 92")]
    while not program.started:
        yield 2
    for role in ROLES:
        part = program.parts[role]
        if part.needed:
            words = "%s, identity %s" % (part.chip.name, part.identity) if part.chip else part.words
            checks.append(_check(part.role + " chip", part.chip is not None, words))
    if program.parts["colour"].chip:
        checks.append((yield from _lamp(program)))
    roles = [role for role in ROLES[1:] if program.parts[role].chip]
    if roles:
        records, missing = yield from program.probe.measure(roles)
        checks.extend(_plausible(record) for record in records)
        checks.extend(_check("reading", False, words) for words in missing)
    checks.append(
        _check(
            "button",
            not program.button.down,
            "up" if not program.button.down else "held down or shorted",
        )
    )
    return {"passed": all(check["passed"] for check in checks), "checks": checks}


def _lamp(program):
    try:
        lit, dark = yield from program.colour.lamp_works()
    except PartFault as failure:
        return _check("lamp", False, str(failure))
    return _check("lamp", lit > dark + 20, "clear %d dark, %d lit" % (dark, lit))


def _plausible(record):
    low, high = _LIMITS[record["n"]]
    words = "%s %s" % (record["v"], record["u"])
    return _check(record["n"], low <= record["v"] <= high, words)


def _check(name, passed, words):
    return {"name": name, "passed": passed, "words": words[:80]}

"""Which two measurements make a pair of one mixture, and what a cup that dries is aimed at."""

import asyncio
from dataclasses import replace

import pytest

from sprayout.acts.shifting import DRYING, REDUCER_OUT, pairs_in
from sprayout.journal.records import BatchAddition, Swatch
from tests.acts_bench import hand_bench

BANDS_NM = (415.0, 445.0, 480.0, 515.0, 555.0, 590.0, 630.0, 680.0)


def paint(at_ms: int, drops: int = 5) -> BatchAddition:
    return BatchAddition(id=f"a{at_ms}", bench="bench", batch="b", at_ms=at_ms, paint="ochre",
                         drops=drops)  # fmt: skip


def reducer(at_ms: int, ml: float = 0.5) -> BatchAddition:
    return BatchAddition(id=f"r{at_ms}", bench="bench", batch="b", at_ms=at_ms, reducer="slow",
                         ml=ml)  # fmt: skip


def seen(at_ms: int, level: float, note: str = "") -> Swatch:
    return Swatch(id=f"s{at_ms}", bench="bench", device="board", at_ms=at_ms, channels=(),
                  counts=(), white="d65-10", batch="b", note=note, wavelength_nm=BANDS_NM,
                  reflectance=(level,) * 8)  # fmt: skip


def told(lines, swatches):
    """Each pair as (change, reflectance before, reflectance after)."""
    pairs = pairs_in(lines, swatches)
    return [(what, p.before.reflectance[0], p.after.reflectance[0]) for what, p in pairs]


CASES = {
    "wet, then a dry card": (
        [paint(1)], [seen(2, 0.40), seen(3, 0.36, "dry card")], [(DRYING, 0.40, 0.36)]),
    "the last wet reading counts": (
        [paint(1)], [seen(2, 0.5), seen(3, 0.40), seen(4, 0.36, "dry card an hour old")],
        [(DRYING, 0.40, 0.36)]),
    "paint poured in between": (
        [paint(1), paint(3)], [seen(2, 0.40), seen(4, 0.36, "dry card")], []),
    "a line taken back pours nothing": (
        [paint(1), paint(3, 0)], [seen(2, 0.40), seen(4, 0.36, "dry card")],
        [(DRYING, 0.40, 0.36)]),
    "read before and after thinning": (
        [paint(1), reducer(3)], [seen(2, 0.40), seen(4, 0.38)], [(REDUCER_OUT, 0.38, 0.40)]),
    "thinned, then a dry card of the same mixture": (
        [paint(1), reducer(3)], [seen(2, 0.40), seen(4, 0.36, "dry card")],
        [(DRYING, 0.40, 0.36)]),
    "only read with reducer in it": (
        [paint(1), reducer(2)], [seen(3, 0.38), seen(4, 0.36, "dry card")], []),
    "a coat and a base are no reading of the cup": (
        [paint(1)], [seen(2, 0.40, "base"), seen(3, 0.36, "dry card")], []),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_pairs(case):
    lines, swatches, wanted = CASES[case]
    assert told(lines, swatches) == wanted


async def take(bench, level, note=""):
    """A swatch of the cup in hand, as the sensor would leave it on record."""
    swatch = seen(bench.matching.moment_ms(), level, note)
    kept = replace(swatch, id=bench.new_id("swatch"), batch=bench.matching.batch.id)
    await bench.commit([kept])
    bench.matching.take_swatch(kept)
    bench.clock.pass_ms(1000)
    return kept


async def learn(bench, family, before, after):
    await bench.shelf.put_paint(family, family)
    await bench.matching.start_batch(family, aim="dry")
    await bench.matching.add(family, 5)
    await take(bench, before)
    await take(bench, after, "dry card")
    return bench.advising.shifting.aim()


def test_a_line_taken_back_makes_a_pair_of_what_was_two_mixtures(tmp_path):
    async def evening(bench):
        await bench.shelf.put_paint("ochre", "enamel")
        await bench.matching.start_batch("cup", aim="dry")
        await bench.matching.add("ochre", 5)
        await take(bench, 0.40)
        await bench.matching.add("ochre", 5)
        await take(bench, 0.36, "dry card")
        before = bench.advising.shifting.aim()
        await bench.matching.undo()
        return before, bench.advising.shifting.aim()

    with hand_bench(tmp_path) as bench:
        before, after = asyncio.run(evening(bench))
    assert before.assumed and before.shifts[0].pairs == 0
    assert not after.assumed and after.shifts[0].pairs == 1


def test_a_swatch_worked_out_again_makes_another_pair(tmp_path):
    async def evening(bench):
        before = await learn(bench, "enamel", 0.40, 0.40)
        (_, card) = bench.reader.all(Swatch)
        renewed = replace(card, reflectance=(0.30,) * 8)
        await bench.commit([renewed])
        bench.matching.renew([renewed])
        return before, bench.advising.shifting.aim()

    with hand_bench(tmp_path) as bench:
        before, after = asyncio.run(evening(bench))
    assert after.step > before.step + 0.05


def test_a_bottle_said_to_be_of_another_family_takes_its_pairs_along(tmp_path):
    async def evening(bench):
        await learn(bench, "acrylic", 0.40, 0.36)
        await bench.shelf.put_paint("acrylic", "lacquer")
        return bench.advising.shifting.aim()

    with hand_bench(tmp_path) as bench:
        aim = asyncio.run(evening(bench))
    assert (aim.shifts[0].pairs, aim.assumed) == (1, False)


def test_a_family_learns_from_its_own_pairs_alone(tmp_path):
    with hand_bench(tmp_path) as bench:
        acrylic = asyncio.run(learn(bench, "acrylic", 0.40, 0.36))
        enamel = asyncio.run(learn(bench, "enamel", 0.40, 0.40))
        assert not acrylic.assumed and acrylic.shifts[0].pairs == 1
        assert enamel.shifts[0].pairs == 1
        # One pair of each: the acrylic moved, the enamel did not.
        assert acrylic.step > 0.1 > enamel.step
        asyncio.run(bench.matching.set_aim("wet"))
        assert bench.advising.shifting.aim().shifts == ()

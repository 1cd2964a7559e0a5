"""A batch's ledger replayed from the record: what is on record is taken as it stands."""

import asyncio

import pytest

from sprayout.errors import BadInput
from sprayout.mixing.card import card_text
from tests.acts_bench import MINUTE_MS, hand_bench

run = asyncio.run


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        run(made.ready_to_spray())
        yield made


async def cup_of(bench, *pours):
    await bench.shelf.put_paint("ochre", "enamel", drop_ml=0.05)
    batch = await bench.matching.start_batch("cup")
    for drops in pours:
        await bench.matching.add("ochre", drops)
    return batch


async def coat_of(bench, piece="goods van", part=None):
    bench.clock.pass_ms(MINUTE_MS)
    coat = await bench.spraying.start(piece, "wet coat", part=part)
    bench.clock.pass_ms(MINUTE_MS)
    return (await bench.spraying.end(coat.id)).coat


async def sprayed(bench, ml, piece="goods van"):
    coat = await coat_of(bench, piece)
    return await bench.spraying.sprayed(coat.id, ml, 100.0, bench.ledger.check_sprayed)


def test_an_addition_taken_back_after_two_coats_leaves_the_ledger_readable(bench):
    async def evening():
        batch = await cup_of(bench, 20, 20)  # 2 mL
        await sprayed(bench, 1.0)
        await sprayed(bench, 1.0)
        await bench.matching.undo()
        return batch, await coat_of(bench)

    batch, third = run(evening())
    cup = bench.ledger.batch(batch.id)
    assert cup.volume_left_ml == pytest.approx(-1.0)
    (line,) = bench.ledger.listed()
    assert (line["paint_ml"], line["left_ml"]) == (1.0, 0.0)
    shown = next(x for x in card_text(cup).splitlines() if x.startswith("left in the cup"))
    assert shown.split()[-2:] == ["0.00", "mL"]
    with pytest.raises(BadInput, match=r"wanted at most the 0\.00 mL"):
        run(bench.spraying.sprayed(third.id, 0.5, None, bench.ledger.check_sprayed))


def test_drops_entered_after_the_coat_they_were_sprayed_in_count(bench):
    async def evening():
        batch = await cup_of(bench)
        coat = await coat_of(bench)
        bench.clock.pass_ms(MINUTE_MS)
        await bench.matching.add("ochre", 40)  # 2 mL
        await bench.spraying.sprayed(coat.id, 1.5, None, bench.ledger.check_sprayed)
        return batch

    batch = run(evening())
    assert bench.ledger.batch(batch.id).volume_left_ml == pytest.approx(0.5)

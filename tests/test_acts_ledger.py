"""A batch's ledger replayed from the record: what is on record is taken as it stands."""

import asyncio
from dataclasses import replace

import pytest

from sprayout.errors import BadInput
from sprayout.journal.records import Batch
from sprayout.mixing.card import card_text
from sprayout.mixing.ledger import make_again
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


async def another_target_in_hand(bench, *, first=True):
    """A cup of ochre, and then a cup for another target; what is in hand."""
    if first:
        await bench.matching.set_target("ochre", (50.0, 10.0, 30.0))
    old = await cup_of(bench, 20)
    other = await bench.matching.set_target("grey", (60.0, 0.0, 0.0))
    await bench.matching.start_batch("other")
    return old, other


@pytest.mark.parametrize(
    ("batch", "name", "words"),
    [(None, "  ", "got a name of 0 letters"), ("batch-none", "again", "wanted one on record")],
)
def test_a_cup_that_cannot_be_begun_again_changes_nothing(bench, batch, name, words):
    old, other = run(another_target_in_hand(bench))
    again = make_again(bench.ledger.batch(old.id), 1.0)
    cups = bench.reader.all(Batch)
    with pytest.raises(BadInput, match=words):
        run(bench.ledger.begin_again(batch or old.id, name, again))
    assert bench.matching.target == other
    assert bench.reader.all(Batch) == cups


def test_a_cup_begun_again_is_for_the_target_of_the_old_one(bench):
    old, other = run(another_target_in_hand(bench))
    again = make_again(bench.ledger.batch(old.id), 1.0)
    begun = run(bench.ledger.begin_again(old.id, "again", again))
    assert begun.target == old.target != other.id


def test_a_cup_begun_again_without_a_target_is_for_none(bench):
    old, _ = run(another_target_in_hand(bench, first=False))
    again = make_again(bench.ledger.batch(old.id), 1.0)
    begun = run(bench.ledger.begin_again(old.id, "again", again))
    assert old.target is None and begun.target is None
    assert bench.matching.target is None
    run(bench.advising.refresh())
    assert bench.advising.said.words.startswith("set a target")


def test_a_cup_begun_again_with_a_drop_that_cannot_be_changes_nothing(bench):
    old, other = run(another_target_in_hand(bench))
    again = make_again(bench.ledger.batch(old.id), 1.0)
    run(bench.commit([replace(old, drop_ml=3.0)]))  # an import may bring it
    with pytest.raises(BadInput, match="drop size: got 3 mL"):
        run(bench.ledger.begin_again(old.id, "again", again))
    assert bench.matching.target == other

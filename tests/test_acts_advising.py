"""Recipes and advice are of the shelf as it is, and say what they had to assume of it."""

import asyncio
from dataclasses import replace

import pytest

from sprayout.journal.records import BatchAddition, Swatch
from tests.acts_bench import hand_bench

run = asyncio.run
NM = tuple(float(nm) for nm in range(400, 701, 20))


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        run(shelf_of_greys(made))
        yield made


async def shelf_of_greys(bench):
    for name, level in (("black", 0.05), ("white", 0.8)):
        await bench.shelf.put_paint(name, "enamel", white=name == "white")
        swatch = Swatch(
            id=bench.new_id("swatch"), bench="bench", device="board", at_ms=bench.now_ms(),
            channels=(), counts=(), white="d65-10", wavelength_nm=NM,
            reflectance=(level,) * len(NM))  # fmt: skip
        await bench.shelf.keep_swatch({name: 1}, None, swatch)
    await bench.matching.set_target("grey", (50.0, 0.0, 0.0))
    await bench.matching.start_batch("cup")


def test_a_recipe_of_the_shelf_before_a_change_is_not_kept_for_the_shelf_after_it(bench):
    async def evening():
        bench.shelf.remember(bench.shelf.paints["white"])  # what was fitted is no longer good
        asked = asyncio.create_task(bench.advising.recipe())
        await asyncio.sleep(0)  # it is fitting the shelf now
        white = bench.shelf.paints["white"]
        bench.shelf.remember(replace(white, details={**white.details, "drop_ml": 0.1}))
        return await asked, await bench.advising.recipe(), await bench.advising.recipe()

    during, after, again = run(evening())
    assert during is not after and after is again


def test_paint_weighed_without_a_density_is_said_in_a_note(bench):
    batch, white = bench.matching.batch.id, bench.shelf.paints["white"].id
    line = BatchAddition(id="a", bench="bench", batch=batch, at_ms=bench.now_ms(), paint=white,
                         grams=1.0)  # fmt: skip
    bench.matching.additions.append(line)  # as an import would leave it
    run(bench.advising.refresh())
    assert bench.advising.said.advice is not None
    assert any("white was weighed and its density" in note for note in bench.advising.said.notes)

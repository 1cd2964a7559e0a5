"""One cup on several pieces: each surface has its own base, coats and film."""

import asyncio

import pytest

from sprayout.errors import BadInput
from sprayout.journal.records import Swatch
from tests.acts_bench import MINUTE_MS, hand_bench

run = asyncio.run
NM = tuple(float(nm) for nm in range(400, 701, 20))


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        run(mixed(made))
        yield made


def flat(bench, level, note="", **of):
    """A grey swatch, by hand."""
    return Swatch(
        id=bench.new_id("swatch"),
        bench=bench.bench,
        device="board",
        at_ms=bench.now_ms(),
        channels=("f1",),
        counts=(1.0,),
        white="d65-10",
        lab=(50.0, 0.0, 0.0),
        wavelength_nm=NM,
        reflectance=(level,) * len(NM),
        note=note,
        **of,
    )


async def mixed(bench):
    """A cup of grey for two vans, its target and its bases not yet measured."""
    for name, level in (("black", 0.05), ("white", 0.8)):
        await bench.shelf.put_paint(name, "enamel", white=name == "white")
        await bench.shelf.keep_swatch({name: 1}, None, flat(bench, level))
    await bench.matching.set_target("grey", (50.0, 0.0, 0.0))
    await bench.matching.start_batch("grey")
    await bench.matching.add("white", 60)
    await bench.matching.add("black", 20)
    await bench.ready_to_spray()


async def looked_at(bench, of, level, **named):
    bench.clock.pass_ms(MINUTE_MS)
    batch = bench.matching.batch.id
    await bench.commit([flat(bench, level, of, batch=batch, **named)])


async def coat_on(bench, piece, part=None, ml=None, area_cm2=None):
    bench.clock.pass_ms(MINUTE_MS)
    coat = await bench.spraying.start(piece, "wet coat", part=part)
    bench.clock.pass_ms(MINUTE_MS)
    await bench.spraying.end(coat.id)
    if ml is not None:
        await bench.spraying.sprayed(coat.id, ml, area_cm2, bench.ledger.check_sprayed)
    return coat


def test_coats_on_two_pieces_are_not_layers_on_one(bench):
    async def evening():
        await looked_at(bench, "base", 0.7)
        first = await coat_on(bench, "goods van", ml=0.4, area_cm2=20)
        await coat_on(bench, "goods van", ml=0.4, area_cm2=20)
        await looked_at(bench, "coat", 0.5, coat=first.id)
        await looked_at(bench, "coat", 0.4)
        await looked_at(bench, "base", 0.1)
        await coat_on(bench, "brake van", ml=0.2, area_cm2=40)
        bare = await bench.coating.ahead()
        second = await coat_on(bench, "brake van")
        await looked_at(bench, "coat", 0.2, coat=second.id)
        return bare, await bench.coating.ahead()

    bare, ahead = run(evening())
    # Nothing was read on the brake van yet, so the film starts from its own dark base.
    assert bare.read == 0
    assert bare.coats[0].lab[0] < 50
    assert ahead.read == 2
    # 0.2 mL, 35 % of it on 40 cm2: 17.5 um wet, of the one coat that has both numbers.
    assert ahead.film.wet_um_per_coat == pytest.approx(17.5)
    assert any(one.startswith("1 of the coats had no volume") for one in ahead.assumed)
    assert "the coats are those on brake van, sprayed last" in ahead.assumed


def test_coats_of_two_parts_lie_beside_one_another(bench):
    async def evening():
        await bench.spraying.choose_piece("cutter")
        for part in ("hull", "deck"):
            await bench.dividing.set_part("cutter", part, {})
        await looked_at(bench, "base", 0.3)
        await coat_on(bench, "cutter", "hull")
        await coat_on(bench, "cutter", "deck")
        await looked_at(bench, "coat", 0.4)
        return await bench.coating.ahead()

    ahead = run(evening())
    assert ahead.read == 1
    assert "the coats are those on deck of cutter, sprayed last" in ahead.assumed


def test_each_coat_counts_by_the_area_it_went_over(bench):
    async def evening():
        await looked_at(bench, "base", 0.3)
        await coat_on(bench, "goods van", ml=0.2, area_cm2=10)
        await coat_on(bench, "goods van", ml=0.2, area_cm2=40)
        return await bench.coating.ahead()

    ahead = run(evening())
    # 35 % stays: 0.07 mL on 10 cm2 is 70 um, on 40 cm2 17.5 um.
    assert ahead.film.wet_um_per_coat * 2 == pytest.approx(70 + 17.5)


def test_a_base_measured_after_the_first_coat_is_no_base(bench):
    async def evening():
        await coat_on(bench, "goods van")
        await looked_at(bench, "base", 0.3)
        await bench.coating.ahead()

    with pytest.raises(BadInput, match="the base is not measured"):
        run(evening())


def test_the_base_of_another_piece_is_not_taken(bench):
    async def evening():
        await looked_at(bench, "base", 0.7)
        van = await bench.spraying.choose_piece("goods van")
        await looked_at(bench, "base", 0.1, piece=van.id)
        await coat_on(bench, "goods van")
        dark = await bench.coating.ahead()
        await coat_on(bench, "brake van")
        return dark, await bench.coating.ahead()

    dark, light = run(evening())
    assert dark.coats[0].lab[0] + 5 < light.coats[0].lab[0]

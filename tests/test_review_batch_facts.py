"""A cup out of its ledger: volumes as the shelf reckons them, unknown ones kept unknown."""

import pytest

from sprayout.climate.reducer import blend_by_volume
from sprayout.journal import records as r
from sprayout.journal.line_volume import volume_ml
from sprayout.review.batch_facts import Cup, cups_of
from sprayout.review.facts import facts_of
from sprayout.review.gathering import BenchRecord
from tests.acts_bench import hand_bench

B = "quay"
PAINTS = [
    r.Paint(id="blue", bench=B, name="blue", made_ms=0, type="enamel",
            details={"drop_ml": 0.04, "density_g_ml": 1.25}),
    r.Paint(id="ochre", bench=B, name="ochre", made_ms=0, type="lacquer"),
    r.Paint(id="odd", bench=B, name="odd", made_ms=0,
            details={"drop_ml": "wide", "density_g_ml": []}),
]  # fmt: skip
REDUCERS = [
    r.Reducer(id="slow", bench=B, name="slow", made_ms=0, solvents={"xylene": 1}),
    r.Reducer(id="fast", bench=B, name="fast", made_ms=0, solvents={"acetone": 1}),
]
BATCH = r.Batch(id="b", bench=B, name="cup", made_ms=0, drop_ml=0.06)


def line(**amount: object) -> r.BatchAddition:
    return r.BatchAddition(id=str(amount), bench=B, batch="b", at_ms=0, **amount)  # type: ignore[arg-type]


def cup_of(*ledger: r.BatchAddition) -> Cup:
    return cups_of([BATCH], ledger, PAINTS, REDUCERS, [], [])["b"]


LINES = [
    ({"paint": "blue", "drops": 10}, 0.4),  # the bottle's own drop, before the cup's
    ({"paint": "ochre", "drops": 10}, 0.6),
    ({"paint": "odd", "drops": 10}, 0.6),
    ({"paint": "blue", "grams": 2.5, "ml": 9.0, "drops": 3}, 2.0),  # grams first
    ({"paint": "ochre", "grams": 2.5}, None),
    ({"paint": "odd", "grams": 2.5}, None),
    ({"paint": "blue", "ml": 1.5}, 1.5),
    ({"reducer": "slow", "ml": 1.5}, 1.5),
    ({"reducer": "slow", "grams": 1.5}, None),
    ({"note": "efflux 21 s"}, None),
]


@pytest.mark.parametrize(("amount", "ml"), LINES)
def test_the_volume_of_a_line(amount: dict[str, object], ml: float | None) -> None:
    paint = next((p for p in PAINTS if p.id == amount.get("paint")), None)
    found = volume_ml(line(**amount), paint, BATCH.drop_ml)
    assert found == (None if ml is None else pytest.approx(ml))


def test_the_shelf_and_the_review_say_the_same_of_every_line(tmp_path) -> None:
    with hand_bench(tmp_path) as bench:
        for paint in PAINTS:
            bench.shelf.remember(paint)
        for amount, ml in LINES:
            if "paint" in amount:
                assert (
                    bench.shelf.ml_of(line(**amount), BATCH.drop_ml)
                    == cup_of(line(**amount)).paint_ml
                    == (None if ml is None else pytest.approx(ml))
                )


def parts_of(*ledger: r.BatchAddition) -> float | None:
    coat = r.Coat(id="c", bench=B, piece="van", kind="wet coat", start_ms=9, end_ms=10, batch="b")
    record = BenchRecord(coats=[coat], conditions={}, findings=[], cups={"b": cup_of(*ledger)},
                         calibrations=[], airbrushes={}, booths={})  # fmt: skip
    (facts,) = facts_of(record)
    found = facts.values.get("reducer_parts")
    return None if found is None else float(found)


def test_parts_of_reducer_are_left_out_where_a_volume_is_not_known() -> None:
    paint, thinner = line(paint="blue", drops=50), line(reducer="slow", ml=1.0)
    efflux = line(note="efflux 21 s")
    assert parts_of(paint, thinner, efflux) == pytest.approx(0.5)
    assert parts_of(paint, thinner, line(reducer="fast", grams=1.0)) is None
    assert parts_of(paint, thinner, line(paint="ochre", grams=1.0)) is None
    assert parts_of(paint) == 0.0


def test_reducers_mix_by_volume_and_one_alone_needs_none() -> None:
    alone = cup_of(line(reducer="slow", grams=1.0), line(reducer="slow", ml=1.0))
    assert alone.blend == blend_by_volume({"xylene": 1.0}) and alone.reducer_ml is None
    assert cup_of(line(reducer="slow", ml=1.0), line(reducer="fast", grams=1.0)).blend is None
    both = cup_of(line(reducer="slow", ml=1.0), line(reducer="fast", ml=3.0)).blend
    assert both is not None and both.shares == pytest.approx((0.25, 0.75))


def test_the_family_is_that_of_the_paint_there_is_most_of() -> None:
    assert cup_of(line(paint="blue", drops=50), line(paint="ochre", drops=10)).family == "enamel"
    # 3 g without a density count as 3 mL for that, and only for that.
    mostly = cup_of(line(paint="blue", drops=50), line(paint="ochre", grams=3.0))
    assert (mostly.family, mostly.paint_ml) == ("lacquer", None)
    assert cup_of(line(paint="ochre", drops=0)).family is None  # taken back

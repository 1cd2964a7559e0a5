"""What is read for one review is what the whole record says of the same coats."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from sprayout.commands.benchmarks.review_histories import BENCH, make_history, make_long_history
from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.reader import Reader
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer
from sprayout.review.facts import facts_of
from sprayout.review.history import conditions_on_record, read_history
from sprayout.review.inquiry import review_coat
from sprayout.review.judge import MOST_COATS


def stored(path: Path, records: list[r.Record]) -> Path:
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit(records, urgent=True).result(120)
    return path


@pytest.fixture(scope="module")
def long_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Reader]:
    """More coats than are compared, every third said to be of another family."""
    records = [
        replace(x, settings={**x.settings, "family": "lacquer"})
        if isinstance(x, r.Coat) and int(x.piece[1:]) % 3 == 0
        else x
        for x in make_long_history(5, MOST_COATS + 150).records
    ]
    with Reader(stored(tmp_path_factory.mktemp("long") / "a.db", records)) as reader:
        yield reader


def test_a_review_says_the_same_with_and_without_the_history_in_memory(long_store: Reader) -> None:
    known = read_history(long_store, BENCH)
    findings = [f for f in long_store.all(r.Finding, newest=True) if f.coat]
    for finding in [*findings[:6], *findings[-6:]]:
        assert finding.coat is not None
        cold = review_coat(long_store, finding.coat)
        assert cold == review_coat(long_store, finding.coat, None, known)
        assert cold["finding"]["coat"] == finding.coat and cold["ranked"]


def test_of_one_long_family_exactly_as_many_coats_are_compared(tmp_path: Path) -> None:
    """One coat to a piece, so that no other coat of a piece is read besides."""
    at_ms = range(0, (MOST_COATS + 5) * 86_400_000, 86_400_000)
    records: list[r.Record] = []
    for i, start_ms in enumerate(at_ms):
        settings: dict[str, float | str] = {"family": "enamel", "distance_mm": 100.0 + i}
        records += [
            r.Piece(id=f"p{i}", bench="quay", name=f"van {i}", made_ms=start_ms),
            r.Coat(id=f"c{i}", bench="quay", piece=f"p{i}", kind="wet coat", start_ms=start_ms,
                   end_ms=start_ms + 60_000, settings=settings),
        ]  # fmt: skip
    newest = f"c{len(at_ms) - 1}"
    records.append(
        r.Finding(id="f", bench="quay", piece=newest.replace("c", "p"), coat=newest,
                  defect="run", at_ms=at_ms[-1] + 90_000)
    )  # fmt: skip
    with Reader(stored(tmp_path / "a.db", records)) as reader:
        assert len(read_history(reader, "quay", newest).facts) == MOST_COATS + 1
        known = read_history(reader, "quay")
        assert review_coat(reader, newest) == review_coat(reader, newest, None, known)


def test_the_facts_around_a_coat_are_those_of_the_whole_record(long_store: Reader) -> None:
    whole = {f.coat: f for f in read_history(long_store, BENCH).facts}
    last = long_store.all(r.Coat, newest=True, limit=1)[0]
    near = read_history(long_store, BENCH, last.id)
    assert len(near.facts) < len(whole)
    assert all(whole[f.coat] == f for f in near.facts)
    assert near.coat(last.id) is not None


def test_what_is_seen_of_the_conditions_gives_the_facts_that_all_of_them_give(
    tmp_path: Path,
) -> None:
    with Reader(stored(tmp_path / "a.db", make_history(3).records)) as reader:
        history = read_history(reader, BENCH)
        whole = {
            c.id: held for c in history.record.coats if (held := conditions_on_record(reader, c))
        }
        assert whole.keys() == history.record.conditions.keys() and whole
        assert tuple(facts_of(replace(history.record, conditions=whole))) == history.facts


def test_single_fields_are_picked_in_the_order_of_time(long_store: Reader) -> None:
    coats = long_store.all(r.Coat, bench=BENCH)
    rows = long_store.pick(r.Coat, ("id", "piece"), bench=BENCH)
    assert rows == [(c.id, c.piece) for c in coats]
    some = [coats[7].id, coats[2].id, "none of them"]
    assert [c.id for c in long_store.all(r.Coat, id=some)] == [coats[2].id, coats[7].id]
    assert long_store.pick(r.Coat, ("id",), id=set()) == []
    with pytest.raises(BadInput, match="Coat has no field 'colour'"):
        long_store.pick(r.Coat, ("colour",))
    with pytest.raises(BadInput, match="Coat has no field 'colour'"):
        long_store.all(r.Coat, colour=["red"])

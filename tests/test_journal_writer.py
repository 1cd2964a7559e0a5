"""The one writer: acknowledged is kept, refused is told, trouble is waited out."""

import dataclasses
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path

import pytest

from sprayout.errors import BadInput, StoreError
from sprayout.journal import records as r
from sprayout.journal.batch import BatchWriter, submission_of
from sprayout.journal.interface import JournalReader, JournalWriter
from sprayout.journal.reader import Reader
from sprayout.journal.store import connect_writing, prepare_store
from sprayout.journal.writer import Writer, WriterState

T0 = 1_788_540_000_000
PIECE = r.Piece(id="van", bench="quay", name="ice van", made_ms=T0)
COAT = r.Coat(id="c1", bench="quay", piece="van", kind="tack coat", start_ms=T0)


def air(second: int, value: float = 21.0, bench: str = "quay") -> r.Reading:
    return r.Reading(bench, "probe", "air_temperature", value, "Cel", T0 + second * 1000)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    prepare_store(tmp_path / "a.db")
    return tmp_path / "a.db"


@pytest.fixture
def writer(path: Path) -> Iterator[Writer]:
    with Writer(path, every_s=0.01) as writer:
        yield writer


@pytest.fixture
def reader(path: Path) -> Iterator[Reader]:
    with Reader(path) as reader:
        yield reader


def test_a_resolved_future_is_a_record_on_disk(writer: Writer, reader: Reader) -> None:
    writer.submit([PIECE, COAT, air(0)]).result(10)
    assert reader.get(r.Coat, "c1") == COAT
    assert reader.readings("quay", T0, T0 + 1) == [air(0)]


def test_readings_alone_wait_for_the_second_and_a_human_record_does_not(path: Path) -> None:
    with Writer(path, every_s=3600) as writer, Reader(path) as reader:
        waiting = writer.submit([air(0)])
        assert not waiting.done()
        writer.submit([PIECE]).result(10)
        assert waiting.done() and reader.readings("quay", T0, T0 + 1) == [air(0)]
        waiting = writer.submit([air(1)], urgent=True)
        waiting.result(10)
        writer.submit([air(2)])
        writer.flush(10)
        assert len(reader.readings("quay", T0, T0 + 5000)) == 3


def test_closing_commits_what_waits(path: Path) -> None:
    writer = Writer(path, every_s=3600)
    future = writer.submit([air(0)])
    writer.close()
    assert future.done() and future.exception() is None
    with pytest.raises(StoreError, match="closed"):
        writer.submit([air(1)])
    with Reader(path) as reader:
        assert reader.readings("quay", T0, T0 + 1) == [air(0)]


def test_the_same_id_again_brings_a_record_up_to_date(writer: Writer, reader: Reader) -> None:
    writer.submit([PIECE, COAT]).result(10)
    ended = dataclasses.replace(COAT, end_ms=T0 + 60_000, note="ran at the bow")
    writer.submit([ended]).result(10)
    assert reader.get(r.Coat, "c1") == ended
    assert len(reader.coats("quay")) == 1


@pytest.mark.parametrize(
    ("records", "words"),
    [
        ([COAT], "coat 'c1': got piece 'van', which is not on record"),
        ([PIECE, dataclasses.replace(COAT, batch="x")], "got batch 'x', which is not on record"),
        ([PIECE, dataclasses.replace(COAT, end_ms=T0 - 1)], "got an end before its start"),
        (
            [
                r.Target(
                    id="t",
                    bench="quay",
                    name="hull blue",
                    lab=(35.0, -2.0, -30.0),
                    white="d65-10",
                    tolerance_de00=1.0,
                    made_ms=T0,
                    swatch="none",
                )
            ],
            "got swatch 'none', which is not on record",
        ),
    ],
)
def test_a_wrong_record_is_refused_with_all_of_its_submission(
    writer: Writer, reader: Reader, records: list[r.Record], words: str
) -> None:
    refused = writer.submit([*records, air(0)])
    kept = writer.submit([dataclasses.replace(PIECE, id="boat"), air(1)])
    kept.result(10)
    with pytest.raises(BadInput, match=words):
        refused.result(10)
    assert [p.id for p in reader.all(r.Piece)] == ["boat"]
    assert reader.readings("quay", T0, T0 + 5000) == [air(1)]


def test_a_target_and_its_swatch_may_refer_to_each_other(writer: Writer, reader: Reader) -> None:
    target = r.Target(
        id="t",
        bench="quay",
        name="crane ochre",
        lab=(60.0, 10.0, 50.0),
        white="d50-2",
        tolerance_de00=1.5,
        made_ms=T0,
        swatch="s",
    )
    swatch = r.Swatch(
        id="s",
        bench="quay",
        device="board",
        at_ms=T0,
        channels=("f1", "f2"),
        counts=(120.0, 340.0),
        white="d50-2",
        lab=(60.1, 9.9, 50.2),
        target="t",
    )
    writer.submit([swatch, target]).result(10)
    assert reader.get(r.Target, "t") == target
    assert reader.swatches("quay", target="t") == [swatch]


def test_a_full_queue_is_said_and_nothing_of_it_is_taken(path: Path) -> None:
    with Writer(path, every_s=3600, limit=2) as writer:
        writer.submit([air(0), air(1)])
        with pytest.raises(StoreError, match="2 records wait, this one was not taken"):
            writer.submit([air(2)])
        assert writer.state.waiting == 2


def test_a_lock_is_waited_out_and_said(path: Path) -> None:
    told: list[WriterState] = []
    heard = threading.Event()

    def hear(state: WriterState) -> None:
        told.append(state)
        heard.set()

    with (
        closing(sqlite3.connect(path, isolation_level=None)) as other,
        Writer(path, every_s=0.01, busy_s=0.01, on_trouble=hear) as writer,
    ):
        other.execute("BEGIN IMMEDIATE")
        future = writer.submit([PIECE])
        assert heard.wait(10)
        assert not future.done()
        assert not told[0].writable and "close that program" in told[0].words
        other.execute("ROLLBACK")
        future.result(10)
        assert writer.state == WriterState(True, 0)


def test_a_full_disk_keeps_the_queue_and_recovers(path: Path) -> None:
    heard = threading.Event()
    with Writer(path, every_s=0.01, on_trouble=lambda _: heard.set()) as writer:
        writer.submit([air(0)]).result(10)
        connection = writer._batch._connection  # the page limit stands in for the disk's end
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        photo = r.Photo(
            id="ph", bench="quay", media_type="image/jpeg", data=bytes(100_000), at_ms=T0
        )
        future = writer.submit([photo])
        assert heard.wait(10)
        assert not writer.state.writable and "disk is full" in writer.state.words
        with Reader(path) as reader:  # what was there can still be read
            assert reader.readings("quay", T0, T0 + 1) == [air(0)]
            assert reader.get(r.Photo, "ph") is None
        connection.execute("PRAGMA max_page_count = 1000000")
        future.result(10)
        with Reader(path) as reader:
            assert reader.get(r.Photo, "ph") == photo


def test_who_waits_is_told_in_time_and_that_unit_alone_is_not_kept(path: Path) -> None:
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as other,
        Writer(path, every_s=0.01, busy_s=0.01) as writer,
        Reader(path) as reader,
    ):
        other.execute("BEGIN IMMEDIATE")
        reading = writer.submit([air(0)])
        waited_for = writer.submit([PIECE], urgent=True, patience_s=0.05)
        with pytest.raises(StoreError, match=r"close that program.*this was not kept"):
            waited_for.result(10)
        assert writer.state.waiting == 1 and not reading.done()
        other.execute("ROLLBACK")
        reading.result(10)
        writer.flush(10)
        assert reader.readings("quay", T0, T0 + 1) == [air(0)]
        assert reader.all(r.Piece) == []
        assert writer.state == WriterState(True, 0)


def test_closing_while_the_store_cannot_be_written_says_what_is_lost(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        writer = Writer(path, every_s=0.01, busy_s=0.01)
        other.execute("BEGIN IMMEDIATE")
        future = writer.submit([air(0), air(1)])
        with pytest.raises(StoreError, match="2 records were not kept"):
            writer.close()
        assert future.cancelled()


def test_many_threads_submit_and_all_is_kept(writer: Writer, reader: Reader) -> None:
    def submit(bench: str, futures: list[Future[None]]) -> None:
        futures += [writer.submit([air(n, float(n), bench)]) for n in range(100)]

    futures: list[Future[None]] = []
    threads = [threading.Thread(target=submit, args=(f"b{i}", futures)) for i in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for future in futures:
        future.result(10)
    assert reader.benches() == ("b0", "b1", "b2", "b3", "b4")
    assert all(len(reader.readings(b, 0, 2**62)) == 100 for b in reader.benches())


def test_what_another_connection_wrote_is_noticed(
    path: Path, writer: Writer, reader: Reader
) -> None:
    """As on a share that knows no locks: nothing of either is lost."""
    writer.submit([air(0)], urgent=True).result(10)
    other = BatchWriter(connect_writing(path))
    other.write([submission_of([r.Reading("quay", "probe", "wind", 2.0, "m/s", T0)])])
    other.close()
    writer.submit([r.Reading("quay", "probe", "wind", 3.0, "m/s", T0 + 1)], urgent=True).result(10)
    assert [x.value for x in reader.readings("quay", T0, T0 + 5, channels=["wind"])] == [2.0, 3.0]
    assert len(reader.channels()) == 2


def test_the_sqlite_store_is_one_of_its_interface(writer: Writer, reader: Reader) -> None:
    behind: tuple[JournalWriter, JournalReader] = (writer, reader)  # what mypy holds
    for protocol, made in zip((JournalWriter, JournalReader), behind, strict=True):
        asked = {n for n in vars(protocol) if not n.startswith("_")}
        assert asked <= set(dir(made))


def test_a_store_may_be_read_while_it_is_written(path: Path, writer: Writer) -> None:
    with closing(connect_writing(path)) as connection:
        connection.execute("BEGIN")
        connection.execute("SELECT * FROM piece").fetchall()  # an open read stops no writer
        writer.submit([PIECE]).result(10)
        assert connection.execute("SELECT count(*) FROM piece").fetchone() == (0,)
        connection.execute("ROLLBACK")
        assert connection.execute("SELECT count(*) FROM piece").fetchone() == (1,)


def test_two_connections_that_write_at_once_lose_nothing(path: Path, reader: Reader) -> None:
    """Each hears new channels all the time, so each must notice what the other one added."""

    def write(name: str) -> None:
        batch = BatchWriter(connect_writing(path, 30.0))
        for n in range(40):
            x = r.Reading("quay", f"{name}{n % 8}", f"c{n}", float(n), "m", T0 + n)
            batch.write([submission_of([x, dataclasses.replace(x, device="shared")])])
        batch.close()

    threads = [threading.Thread(target=write, args=(name,)) for name in ("a", "b")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    held = reader.readings("quay", T0, T0 + 1000)
    assert len([x for x in held if x.device != "shared"]) == 80
    assert len([x for x in held if x.device == "shared"]) == 40
    assert len(reader.channels()) == 120

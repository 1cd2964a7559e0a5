"""A small invented record for the tests of the review: the harbour museum's toy boats.

Forty evenings of good coats, then one humid evening on which the pilot cutter went milky.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

from sprayout.journal import records as r
from sprayout.journal.records_json import parse_time
from sprayout.journal.store import prepare_store
from sprayout.journal.writer import Writer

T0 = parse_time("2026-06-01T18:00:00Z")
DAY_MS = 86_400_000
COAT_MS = 240_000
BENCH = "quay"
MILKY = "milky"


def png() -> bytes:
    """A picture of one grey dot."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\x00\x80"))
        + chunk(b"IEND", b"")
    )


def readings(start_ms: int, air_c: float, rh_pct: float) -> list[r.Reading]:
    """A reading every ten seconds of one coat."""
    times = range(start_ms, start_ms + COAT_MS, 10_000)
    return [
        r.Reading(BENCH, "probe", channel, value + 0.1 * (i % 3), unit, at_ms)
        for i, at_ms in enumerate(times)
        for channel, unit, value in (
            ("air_temperature", "Cel", air_c),
            ("relative_humidity", "%RH", rh_pct),
        )
    ]


def shelf() -> list[r.Record]:
    return [
        r.Paint(id="blue", bench=BENCH, name="pilot cutter hull blue", made_ms=T0, type="enamel"),
        r.Reducer(
            id="white-spirit", bench=BENCH, name="slow reducer", made_ms=T0, solvents={"xylene": 1}
        ),
        r.Target(
            id="hull",
            bench=BENCH,
            name="hull blue",
            lab=(38.0, -4.0, -26.0),
            white="d65-10",
            tolerance_de00=1.0,
            made_ms=T0,
        ),
    ]


def evening(
    i: int, rh_pct: float, piece: str | None = None, *, with_readings: bool = True
) -> list[r.Record]:
    """One piece with its batch and one coat."""
    at_ms, key = T0 + i * DAY_MS, piece or f"van-{i}"
    coat = r.Coat(
        id=f"coat-{key}",
        bench=BENCH,
        piece=key,
        kind="wet coat",
        start_ms=at_ms,
        end_ms=at_ms + COAT_MS,
        batch=f"cup-{key}",
        person="Ida",
        settings={"distance_mm": 100 + i % 7, "efflux_s": 20.0 + 0.2 * (i % 5)},
    )
    made: list[r.Record] = [
        r.Piece(id=key, bench=BENCH, name=f"goods {key}", made_ms=at_ms, metal="steel",
                metal_mm=0.3),
        r.Batch(id=f"cup-{key}", bench=BENCH, name=f"cup {i}", made_ms=at_ms - 3_600_000,
                target="hull"),
        r.BatchAddition(id=f"a-{key}", bench=BENCH, batch=f"cup-{key}", at_ms=at_ms - 3_500_000,
                        paint="blue", drops=80 + i % 4),
        r.BatchAddition(id=f"r-{key}", bench=BENCH, batch=f"cup-{key}", at_ms=at_ms - 3_400_000,
                        reducer="white-spirit", ml=2.0),
        r.Swatch(id=f"s-{key}", bench=BENCH, device="board", at_ms=at_ms - 600_000,
                 channels=("f1",), counts=(100.0,), white="d65-10",
                 lab=(38.2 + 0.02 * i, -4.0, -26.0), u95_de00=0.8, target="hull",
                 batch=f"cup-{key}", de00=0.3),
        coat,
    ]  # fmt: skip
    if with_readings:
        made += readings(at_ms, 21.0 + 0.3 * (i % 5), rh_pct)
    return made


def good_evenings(count: int = 40) -> list[r.Record]:
    made = shelf()
    for i in range(count):
        made += evening(i, 42.0 + 1.3 * (i % 9))
    return made


def milky_evening(i: int = 45, rh_pct: float = 88.0) -> list[r.Record]:
    """The pilot cutter on a humid evening, with a photo of what became of it."""
    at_ms = T0 + i * DAY_MS
    made = evening(i, rh_pct, "cutter")
    made += [
        r.Photo(id="photo-1", bench=BENCH, media_type="image/png", data=png(), at_ms=at_ms),
        r.Finding(id=MILKY, bench=BENCH, piece="cutter", coat="coat-cutter", defect="blush",
                  severity="plain", place="port side <b>", at_ms=at_ms + 3_600_000,
                  photo="photo-1", person="Ida"),
        r.CautionsAcknowledged(id="read", bench=BENCH, evening="2026-07-16", person="Ida",
                               at_ms=at_ms - 60_000, cautions=("ventilation",)),
        r.Flag(id="flag-1", bench=BENCH, key="humid_blush_risk", level="stop", words="humid",
               raised_ms=at_ms, cleared_ms=at_ms + 180_000, coat="coat-cutter"),
        r.Swatch(id="result", bench=BENCH, device="board", at_ms=at_ms + 7_200_000,
                 channels=("f1",), counts=(90.0,), white="d65-10", lab=(41.0, -3.5, -23.0),
                 u95_de00=0.9, target="hull", piece="cutter", de00=3.1),
    ]  # fmt: skip
    return made


def make_store(path: Path, records: list[r.Record]) -> Path:
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit(records, urgent=True).result(60)
    return path

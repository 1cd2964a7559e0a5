"""Export, import, export again: the same bytes.  A wrong line: its number, and nothing changed."""

import csv
import ctypes
import ctypes.util
import dataclasses
import io
import json
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.journal import records as r
from sprayout.journal.cgats import cgats_text
from sprayout.journal.importing import Imported, import_file
from sprayout.journal.interchange import Range, export_lines
from sprayout.journal.reader import Reader
from sprayout.journal.records_json import KINDS, from_json, to_json
from sprayout.journal.spreadsheet import guarded, sheets
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.writer import Writer

T0 = 1_788_540_000_000
B = {"bench": "quay"}
TARGET = r.Target(
    id="hull",
    name='pilot cutter "hull" blue; grün',
    lab=(31.5, -2.25, -28.0),
    white="d65-10",
    tolerance_de00=1.0,
    made_ms=T0,
    swatch="s1",
    wavelength_nm=(450.0, 550.0),
    reflectance=(0.2, 0.1),
    **B,
)
SWATCH = r.Swatch(
    id="s1",
    device="board",
    at_ms=T0 + 5,
    channels=("f1", "f2"),
    counts=(812.0, 1033.5),
    white="d65-10",
    lab=(31.6, -2.2, -27.9),
    u95_de00=0.8,
    wavelength_nm=(450.0, 550.0),
    reflectance=(0.205, 0.099),
    calibration="k",
    target="hull",
    batch="mix",
    piece="boat",
    part="deck",
    coat="c1",
    de00=0.31,
    note="=SUM(A1)",
    ambient=(2.0, 0.5),
    repeats=4,
    placements=3,
    warnings=("gloss or tilt",),
    **B,
)
SPECTRAL_D50 = dataclasses.replace(SWATCH, id="s2", white="d50-2", lab=(32.0, -3.0, -29.0))
UNKNOWN = dataclasses.replace(SWATCH, id="s3", lab=None, clipped=("f1",))
FORMER = r.FormerColour(
    id="f1",
    swatch="s1",
    at_ms=T0 + 9,
    white="d65-10",
    lab=(31.0, -2.0, -28.0),
    u95_de00=1.1,
    wavelength_nm=(450.0, 550.0),
    reflectance=(0.2, 0.1),
    formula="2026.11-1",
    de00=0.4,
    **B,
)
EVERY: list[r.Record] = [
    r.Piece(id="boat", name="pilot cutter", made_ms=T0, metal="tinplate", metal_mm=0.25, **B),
    TARGET,
    r.Part(id="deck", piece="boat", name="deck", target="hull", **B),
    r.Paint(id="ochre", name="quay-crane ochre", made_ms=T0, details={"k": [1, 2.5, None]}, **B),
    r.Reducer(id="slow", name="slow reducer", made_ms=T0, solvents={"xylene": 0.6}, **B),
    r.Batch(
        id="mix",
        name="hull blue 3",
        made_ms=T0,
        target="hull",
        drop_ml=0.05,
        aim="dry",
        recipe={"kind": "closest", "drops": {"ochre": 12}},
        **B,
    ),
    r.BatchAddition(id="a1", batch="mix", at_ms=T0 + 1, paint="ochre", drops=12, **B),
    r.BatchAddition(id="a3", batch="mix", at_ms=T0 + 3, paint="ochre", grams=1.25, **B),
    r.BatchAddition(id="a2", batch="mix", at_ms=T0 + 2, reducer="slow", ml=1.5, **B),
    r.Airbrush(id="fine", name="fine brush", made_ms=T0, nozzle_mm=0.3, cleaned_ms=T0 - 9, **B),
    r.Booth(id="box", name="small booth", made_ms=T0, width_m=0.6, flow_m3h=350.0, **B),
    r.Booth(
        id="box2",
        name="small booth, filter changed",
        made_ms=T0 + 1,
        exhaust="recirculating",
        fan={"curve": [[0, 120.0], [600, 0]], "at_flow_m3h": 300.0},
        filter_loading=1.5,
        room_volume_m3=40.0,
        room_air_changes_h=0.5,
        mixing_divisor=3.0,
        confirmed=("volume_m3",),
        **B,
    ),
    r.ProbeCheck(
        id="pc",
        device="probe",
        at_ms=T0 - 86_400_000,
        offset_pct=-1.25,
        gain=0.98,
        low_pct=33.5,
        high_pct=77.1,
        uncertainty_pct=1.1,
        points=(
            r.SaltReading(salt="MgCl2", t_c=21.5, read_pct=33.5, minutes=240.0),
            r.SaltReading(salt="NaCl", t_c=21.5, read_pct=77.1, minutes=240.0),
        ),
        person="Ida",
        **B,
    ),
    r.Cartridge(id="a2p3", name="left pair", type="A2P3", fitted_ms=T0, hours_used=1.5, **B),
    r.Calibration(id="k", device="board", at_ms=T0, sensor="rgb", unit={"gain": 64}, **B),
    r.Coat(
        id="c1",
        piece="boat",
        kind="tack coat",
        start_ms=T0 + 10_000,
        end_ms=T0 + 40_000,
        part="deck",
        batch="mix",
        airbrush="fine",
        booth="box",
        cartridge="a2p3",
        settings={"passes": 2},
        person="Ida",
        **B,
    ),
    r.Coat(id="c2", piece="boat", kind="wet coat", start_ms=T0 + 90_000, **B),
    SWATCH,
    SPECTRAL_D50,
    UNKNOWN,
    FORMER,
    r.Photo(id="ph", media_type="image/png", data=b"\x89PNG\r\n\x00\xff", at_ms=T0, **B),
    r.Finding(id="fi", piece="boat", defect="blush", at_ms=T0, coat="c1", photo="ph", **B),
    r.Flag(
        id="fl", key="humid", level="stop", words="x", raised_ms=T0, cleared_ms=T0 + 20_000, **B
    ),
    r.CautionsAcknowledged(
        id="ca", evening="2026-09-04", person="Ida", at_ms=T0, cautions=("mask",), **B
    ),
    r.ClockStep(id="cs", at_ms=T0, before_ms=5, after_ms=T0, reason="the clock was set", **B),
    *(
        r.Reading("quay", "probe", "relative_humidity", 50 + n / 4, "%RH", T0 + n * 1000)
        for n in range(60)
    ),
    r.Reading("quay", "probe", "relative_humidity", 77.0, "%RH", T0),  # another at the same time
    r.Reading("loft", "fremd", "Temperatur, außen", 1 / 3, "°C", T0 + 1),
]


def export(path: Path, chosen: Range | None = None) -> str:
    with closing(connect_reading(path)) as connection:
        return "".join(export_lines(connection, chosen or Range()))


@pytest.fixture
def full(tmp_path: Path) -> Path:
    path = tmp_path / "full.db"
    prepare_store(path)
    with Writer(path) as writer:
        writer.submit(EVERY).result(10)
    return path


def take_in(tmp_path: Path, lines: str, name: str = "other", replace: bool = False) -> Imported:
    file = tmp_path / f"{name}.jsonl"
    file.write_text(lines, encoding="utf-8")
    return import_file(tmp_path / f"{name}.db", file, replace=replace)


def test_the_example_holds_every_kind_but_conditions() -> None:
    assert {type(x) for x in EVERY} == set(KINDS.values()) - {r.Conditions}


def test_export_import_export_gives_the_same_bytes(full: Path, tmp_path: Path) -> None:
    first = export(full)
    assert {json.loads(line)["kind"] for line in first.splitlines()} == set(KINDS)
    done = take_in(tmp_path, first)
    assert sum(done.lines.values()) == done.new == len(EVERY) + 1  # and the coat's conditions
    assert export(tmp_path / "other.db") == first


def test_import_in_any_order_of_lines_gives_the_same_bytes(full: Path, tmp_path: Path) -> None:
    first = export(full)
    take_in(tmp_path, "".join(reversed(first.splitlines(keepends=True))))
    assert export(tmp_path / "other.db") == first


def test_importing_twice_changes_nothing(full: Path, tmp_path: Path) -> None:
    first = export(full)
    take_in(tmp_path, first)
    done = take_in(tmp_path, first)
    assert (done.new, done.changed) == (0, 0)
    assert export(tmp_path / "other.db") == first


@settings(
    deadline=None, max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    readings=st.lists(
        st.builds(
            r.Reading,
            st.sampled_from(["quay", "loft"]),
            st.sampled_from(["a", "b"]),
            st.sampled_from(["x", "y", "z", 'q"\\u2028,é']),
            st.floats(allow_nan=False, allow_infinity=False) | st.integers(-500, 500).map(float),
            st.sampled_from(["Cel", "m"]),
            st.integers(0, 5).map(lambda n: T0 + n * 40_000),
        ),
        max_size=40,
    )
)
def test_any_readings_make_the_round_trip(tmp_path: Path, readings: list[r.Reading]) -> None:
    for left in tmp_path.glob("*.db*"):
        left.unlink()
    lines = "".join(json.dumps(to_json(x)) + "\n" for x in readings)
    take_in(tmp_path, lines, "one")
    first = export(tmp_path / "one.db")
    take_in(tmp_path, first, "two")
    assert export(tmp_path / "two.db") == first
    back = [from_json(json.loads(line)) for line in first.splitlines()]
    assert set(back) == set(readings)


def test_a_part_of_the_record_can_be_imported_by_itself(full: Path, tmp_path: Path) -> None:
    part = export(full, Range(T0 + 20_000, T0 + 30_000))
    kinds = [json.loads(line)["kind"] for line in part.splitlines()]
    assert kinds.count("reading") == 10
    assert kinds.count("coat") == 1 and "c2" not in part  # the coat that ran then
    take_in(tmp_path, part)
    assert export(tmp_path / "other.db") == part


def test_one_bench_by_itself(full: Path, tmp_path: Path) -> None:
    part = export(full, Range(bench="loft"))
    assert [json.loads(line)["bench"] for line in part.splitlines()] == ["loft"]
    take_in(tmp_path, part)


GOOD = json.dumps(to_json(EVERY[0])) + "\n"
COAT_OF_NOTHING = json.dumps(to_json(r.Coat(id="c", piece="gone", kind="x", start_ms=T0, **B)))


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (GOOD + "{", "line 2: not JSON"),
        (GOOD + "\n\n[1]\n", "line 4: got \\[1\\], wanted a JSON object"),
        (GOOD + '{"kind":"reading"}\n' + GOOD, "line 2: reading, field bench: missing"),
        (
            GOOD + '{"kind":"reading","bench":"b","device":"d","channel":"c","value":NaN}',
            "line 2: got NaN, wanted a finite number",
        ),
        (GOOD + "[" * 100_000, "line 2: "),
        (GOOD + COAT_OF_NOTHING, "line 2: coat 'c' refers to piece 'gone'"),
        (GOOD + GOOD.replace("pilot", "pirate"), "line 2: piece 'boat' is on record already"),
        (
            GOOD + COAT_OF_NOTHING.replace('"end": null', '"end": "1999-01-01T00:00:00Z"'),
            "line 2: coat 'c': got an end before its start",
        ),
    ],
)
def test_a_wrong_line_is_named_and_nothing_is_imported(
    tmp_path: Path, full: Path, lines: str, words: str
) -> None:
    before = export(full)
    file = tmp_path / "full.jsonl"
    file.write_text(lines.replace("boat", "ferry"), encoding="utf-8")
    with pytest.raises(BadInput, match=words.replace("boat", "ferry")):
        import_file(full, file)
    assert export(full) == before


def test_bytes_that_are_no_text_are_named(tmp_path: Path) -> None:
    (tmp_path / "x.jsonl").write_bytes(GOOD.encode() + b'{"kind": "\xff"}\n')
    with pytest.raises(BadInput, match="line 2: not UTF-8 text"):
        import_file(tmp_path / "x.db", tmp_path / "x.jsonl")
    assert not (tmp_path / "x.db").exists()


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be read"):
        import_file(tmp_path / "x.db", tmp_path / "none.jsonl")


def test_replace_takes_the_files_record(full: Path, tmp_path: Path) -> None:
    changed = GOOD.replace("pilot cutter", "pilot cutter no. 2")
    file = tmp_path / "x.jsonl"
    file.write_text(changed)
    with pytest.raises(BadInput, match="--replace"):
        import_file(full, file)
    assert import_file(full, file, replace=True).changed == 1
    assert "no. 2" in export(full)


def test_imported_readings_change_the_conditions_of_a_coat(full: Path, tmp_path: Path) -> None:
    more = r.Reading("quay", "probe", "relative_humidity", 99.0, "%RH", T0 + 20_500)
    file = tmp_path / "x.jsonl"
    file.write_text(json.dumps(to_json(more)))
    import_file(full, file)
    conditions = next(
        from_json(json.loads(x)) for x in export(full).splitlines() if '"kind": "conditions"' in x
    )
    assert isinstance(conditions, r.Conditions)
    humidity = conditions.channel("relative_humidity")
    # As the salts say this probe reads, not as it reads.
    check = next(record for record in EVERY if isinstance(record, r.ProbeCheck))
    true_pct = check.offset_pct + check.gain * 99.0
    assert humidity is not None and humidity.high == pytest.approx(true_pct)


def test_an_imported_probe_check_changes_the_conditions_of_a_coat(
    full: Path, tmp_path: Path
) -> None:
    check = next(record for record in EVERY if isinstance(record, r.ProbeCheck))
    withdrawn = dataclasses.replace(check, withdrawn_ms=T0 + 90_000_000)
    reading = r.Reading("quay", "probe", "relative_humidity", 70.0, "%RH", T0 + 20_500)
    file = tmp_path / "x.jsonl"
    for record, replace in ((reading, False), (withdrawn, True)):
        file.write_text(json.dumps(to_json(record)))
        import_file(full, file, replace=replace)
        with Reader(full) as reader:
            kept = reader.get(r.Conditions, "c1")
            assert kept == reader.conditions("c1")
    humidity = kept.channel("relative_humidity") if kept else None
    assert humidity is not None and humidity.high == 70.0  # as read: no check counts any more


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("=SUM(A1)", "'=SUM(A1)"),
        ("+1", "'+1"),
        ("-2 drops", "'-2 drops"),
        ("@x", "'@x"),
        ("\tx", "'\tx"),
        ("  =x", "'  =x"),
        ("hull blue", "hull blue"),
        (-2.5, -2.5),
        (None, None),
        ("", ""),
    ],
)
def test_no_cell_is_a_formula(cell: object, kept: object) -> None:
    assert guarded(cell) == kept


def test_csv_has_a_table_a_kind_with_lab_in_columns(full: Path) -> None:
    with closing(connect_reading(full)) as connection:
        tables = {
            sheet.name: list(csv.DictReader(io.StringIO("".join(sheet.lines), newline="")))
            for sheet in sheets(connection, Range())
        }
    assert set(tables) == set(KINDS)
    swatches = {row["id"]: row for row in tables["swatch"]}
    assert [swatches["s1"][c] for c in ("L", "a", "b")] == ["31.6", "-2.2", "-27.9"]
    assert [swatches["s3"][c] for c in ("L", "a", "b")] == ["", "", ""]
    assert swatches["s1"]["note"] == "'=SUM(A1)"
    assert len(tables["reading"]) == 62
    assert float(tables["reading"][0]["value"]) == 50.0


def test_cgats_holds_the_colours_by_white(full: Path) -> None:
    with closing(connect_reading(full)) as connection:
        text = "".join(cgats_text(connection, Range()))
    assert text.isascii()
    first, second = text.split("CGATS.17\n")[1:]
    assert 'WEIGHTING_FUNCTION "ILLUMINANT, D50"' in first and "NUMBER_OF_SETS 1\n" in first
    assert 'WEIGHTING_FUNCTION "OBSERVER, 10 degree"' in second and "NUMBER_OF_SETS 2\n" in second
    line = first.split("BEGIN_DATA\n")[1].splitlines()[0].split("\t")
    assert line[2:] == ["32.0000", "-3.0000", "-29.0000", "450", "0.205000", "550", "0.099000"]
    assert "target pilot cutter 'hull' blue; gr?n (hull)" in second


LCMS = ctypes.util.find_library("lcms2")


@pytest.mark.skipif(LCMS is None, reason="needs Little CMS (liblcms2)")
def test_little_cms_reads_our_cgats(full: Path) -> None:
    """A general-purpose colour library's own reader of CGATS.17 finds our tables and values."""
    with closing(connect_reading(full)) as connection:
        text = "".join(cgats_text(connection, Range())).encode()
    lcms = ctypes.CDLL(LCMS or "")
    lcms.cmsIT8LoadFromMem.restype = ctypes.c_void_p
    lcms.cmsIT8GetDataRowColDbl.restype = ctypes.c_double
    lcms.cmsIT8GetPropertyDbl.restype = ctypes.c_double
    handle = ctypes.c_void_p(lcms.cmsIT8LoadFromMem(None, text, len(text)))
    assert handle.value
    assert lcms.cmsIT8TableCount(handle) == 2
    for table, lab in ((0, (32.0, -3.0, -29.0)), (1, (31.5, -2.25, -28.0))):
        assert lcms.cmsIT8SetTable(handle, table) == table
        assert lcms.cmsIT8GetPropertyDbl(handle, b"NUMBER_OF_FIELDS") == 9.0
        found = tuple(lcms.cmsIT8GetDataRowColDbl(handle, 0, c) for c in (2, 3, 4))
        assert found == pytest.approx(lab, abs=1e-4)
    lcms.cmsIT8Free(handle)

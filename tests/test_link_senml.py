"""SenML against the examples of RFC 8428, section 5.1, and its rules."""

import csv
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.link.senml import Record, at_ms, at_time, format_pack, parse_pack, sift_pack

TABLE = Path(__file__).parent / "tables" / "senml_rfc8428.csv"
NOW_MS = 1_764_063_600_000


def examples() -> list[dict[str, str]]:
    lines = [line for line in TABLE.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", examples(), ids=lambda row: row["section"])
def test_examples_of_the_standard(row):
    """The pack of the section resolves to the records the standard says it means."""
    wanted = [
        Record(name, unit, value, t_s) for name, unit, value, t_s in json.loads(row["records"])
    ]
    assert list(sift_pack(json.loads(row["pack"])).records) == wanted


@pytest.mark.parametrize("row", examples(), ids=lambda row: row["section"])
def test_what_is_formatted_means_the_same(row):
    records = sift_pack(json.loads(row["pack"])).records
    assert parse_pack(format_pack(records)) == records


def test_times_below_two_to_the_28_count_from_now():
    """RFC 8428, section 4.5.3."""
    assert at_ms(Record("a", None, 1), NOW_MS) == NOW_MS
    assert at_ms(Record("a", None, 1, -5.25), NOW_MS) == NOW_MS - 5250
    assert at_ms(Record("a", None, 1, 2**28 - 1), NOW_MS) == NOW_MS + (2**28 - 1) * 1000
    assert at_ms(Record("a", None, 1, 2**28), NOW_MS) == 2**28 * 1000
    assert at_ms(Record("a", None, 1, 1_764_063_621.123), NOW_MS) == 1_764_063_621_123


REFUSED = [
    ([{"n": "door", "vs": "open"}], "record 1 (door): got \"vs\" 'open', wanted a number"),
    ([{"n": "lamp", "vb": True}], 'record 1 (lamp): got "vb" True'),
    ([{"n": "blob", "vd": "AA"}], 'got "vd"'),
    ([{"n": "energy", "s": 1.0}], 'got "s"'),
    ([{"n": "a", "v": 1}, {"n": "t", "v": "21"}], "record 2 (t): \"v\" is '21', wanted a number"),
    ([{"n": "t", "v": float("nan")}], '"v" is nan, wanted a finite number'),
    ([{"n": "t", "v": float("-inf")}], "wanted a finite number"),
    ([{"n": "t", "v": 10**400}], "too many digits"),
    ([{"n": "t", "v": True}], '"v" is True, wanted a number'),
    ([{"n": "t", "v": None}], '"v" is None'),
    ([{"n": "t", "v": 1, "t": "now"}], "\"t\" is 'now', wanted a number"),
    ([{"n": "t", "v": 1, "u": 5}], '"u" is 5, wanted text'),
    ([{"n": "t"}], "got no value"),
    ([{"v": 1}], "name is ''"),
    ([{"n": "_t", "v": 1}], "name is '_t'"),
    ([{"n": "air temperature", "v": 1}], "name is 'air temperature'"),
    ([{"n": "t", "v": 1, "bver": 11}], '"bver" is 11, wanted at most 10'),
    ([{"n": "t", "v": 1, "mystery_": 1}], 'field "mystery_" must be understood'),
    (["text"], "got 'text', wanted an object"),
    ([], "got [], wanted an array"),
    ({"n": "t", "v": 1}, "wanted an array"),
    ("21.5", "wanted an array"),
]


@pytest.mark.parametrize(("pack", "words"), REFUSED)
def test_what_is_refused_is_named(pack, words):
    with pytest.raises(BadInput) as refused:
        parse_pack(pack)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_good_records_stand_beside_refused_ones():
    pack = [
        {"bn": "p:", "bu": "Cel", "n": "a", "v": "warm"},
        {"n": "b", "v": 21.5},
        {"n": "c", "v": None},
    ]
    sifted = sift_pack(pack)
    assert sifted.records == (Record("p:b", "Cel", 21.5),)
    assert [words.split(":")[0] for words in sifted.refusals] == [
        "SenML record 1 (a)",
        "SenML record 3 (c)",
    ]


def test_a_shared_time_is_written_once():
    records = at_time([Record("a", "Cel", 1), Record("b", None, 2, -3)], NOW_MS)
    assert format_pack(records[:1] * 2)[1] == {"n": "a", "u": "Cel", "v": 1}
    assert format_pack(records)[1] == {"n": "b", "v": 2, "t": NOW_MS / 1000 - 3}


names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9\-:./_]{0,20}", fullmatch=True)
records = st.builds(
    Record,
    names,
    st.none() | st.sampled_from(["Cel", "%RH", "Pa", "count"]),
    st.floats(allow_nan=False, allow_infinity=False),
    st.just(0.0) | st.integers(-(10**6), 2 * 10**12).map(lambda ms: ms / 1000),
)


@settings(deadline=None, max_examples=100)
@given(st.lists(records, min_size=1, max_size=6))
def test_format_and_parse_are_inverse(listed):
    text = json.dumps(format_pack(listed), allow_nan=False)
    assert list(parse_pack(json.loads(text))) == listed

"""Which evening a moment belongs to."""

import pytest

from sprayout.bench.evening import evening_of
from sprayout.journal.records_json import parse_time


@pytest.mark.parametrize(
    ("at", "evening"),
    [
        ("2026-09-04T17:10:00Z", "2026-09-04"),
        ("2026-09-05T00:30:00Z", "2026-09-04"),  # past midnight it is still that evening
        ("2026-09-05T05:59:59Z", "2026-09-04"),
        ("2026-09-05T06:00:00Z", "2026-09-05"),
        ("2026-10-25T00:30:00Z", "2026-10-24"),  # the night in which Europe's clocks go back
    ],
)
def test_evenings_run_past_midnight(at: str, evening: str) -> None:
    assert evening_of(parse_time(at)) == evening

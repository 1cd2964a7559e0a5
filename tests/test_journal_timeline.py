"""Times of the record: in order through every jump of the wall clock."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.journal.timeline import JUMP_MS, WRITTEN_MS, advance, begin

T0 = 1_788_540_000_000
HOUR, DAY = 3_600_000, 86_400_000


@pytest.mark.parametrize(
    ("wall_ms", "newest_ms", "at_ms", "reason"),
    [
        (T0, None, T0, None),
        (T0, T0 - DAY, T0, None),
        (T0, T0 + 500, T0 + 500, None),  # the last commit was a moment ahead
        (0, T0, T0, "no clock battery"),  # 1970
        (WRITTEN_MS - DAY, T0, T0, "no clock battery"),  # the image's own date
        (T0 - HOUR, T0, T0, "no clock battery"),  # saved at the last shutdown
        (T0, T0 + 3000 * DAY, T0, "a record is dated in the future"),
    ],
)
def test_a_start(wall_ms: int, newest_ms: int | None, at_ms: int, reason: str | None) -> None:
    line, jump = begin(wall_ms, 77, newest_ms)
    assert line.at_ms == at_ms
    assert (jump.reason if jump else None) == reason


def test_a_clock_set_after_boot_is_followed_at_once_and_noted() -> None:
    line, _ = begin(5_000, 0, None)  # 1970, no record yet
    line, jump = advance(line, 6_000, 1_000)
    assert (line.at_ms, jump) == (6_000, None)
    line, jump = advance(line, T0, 2_000)
    assert line.at_ms == T0
    assert jump is not None
    assert (jump.before_ms, jump.after_ms) == (7_000, T0)
    assert jump.reason == "the clock was set forward"


def test_a_clock_set_back_is_noted_and_the_order_kept() -> None:
    line, _ = begin(T0, 0, None)
    line, jump = advance(line, T0 - HOUR + 1_000, 1_000)
    assert line.at_ms == T0 + 1_000
    assert jump is not None and jump.reason == "the clock was set back"
    line, jump = advance(line, T0 - HOUR + 2_000, 2_000)  # noted once, then it goes on
    assert (line.at_ms, jump) == (T0 + 2_000, None)
    line, jump = advance(line, T0 + 3_000, 3_000)  # and set right again
    assert line.at_ms == T0 + 3_000
    assert jump is not None and jump.reason == "the clock was set forward"


def test_a_small_difference_is_taken_up_gently() -> None:
    line, _ = begin(T0, 0, None)
    line, jump = advance(line, T0 + 1_500, 1_000)  # half a second ahead
    assert jump is None and line.at_ms == T0 + 1_050
    for second in range(2, 12):
        line, jump = advance(line, T0 + 500 + second * 1_000, second * 1_000)
        assert jump is None
    assert line.at_ms == line.wall_ms


@settings(deadline=None, max_examples=100)
@given(
    looks=st.lists(
        st.tuples(st.integers(0, 5_000), st.integers(-2 * DAY, 2 * DAY) | st.integers(-900, 900)),
        max_size=30,
    )
)
def test_times_never_run_backwards(looks: list[tuple[int, int]]) -> None:
    line, _ = begin(T0, 0, None)
    wall_ms = T0
    for passed_ms, set_by_ms in looks:
        wall_ms += passed_ms + set_by_ms
        new, jump = advance(line, wall_ms, line.monotonic_ms + passed_ms)
        assert new.at_ms >= line.at_ms
        assert (jump is not None) == (abs(set_by_ms) > JUMP_MS)
        line = new

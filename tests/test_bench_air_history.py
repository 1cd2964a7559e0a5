"""The margin's history: the forecast that is shown beside the margin never contradicts it."""

from sprayout.bench.air_history import MarginHistory
from sprayout.climate.forecast import APART_K, Outlook

MINUTE_MS = 60_000


def history(minutes: int, margin_k: float) -> tuple[MarginHistory, int]:
    margins = MarginHistory()
    for now_ms in range(0, minutes * MINUTE_MS, 1_000):
        margins.look(now_ms, margin_k)
    return margins, minutes * MINUTE_MS


def test_a_door_is_answered_at_once_and_not_with_the_next_minute() -> None:
    margins, now_ms = history(30, 4.0)
    before = margins.look(now_ms, 4.0)
    assert before is not None and before.outlook is Outlook.HOLDS
    after = margins.look(now_ms + 1_000, 4.0 - 2.0 * APART_K)
    assert after is not None and after.outlook is Outlook.RESTARTING
    assert after.minutes is None


def test_a_change_that_stays_is_the_new_margin_some_minutes_later() -> None:
    margins, now_ms = history(30, 4.0)
    for later_ms in range(now_ms, now_ms + 15 * MINUTE_MS, 1_000):
        ahead = margins.look(later_ms, 1.0)
    assert ahead is not None and ahead.now_k is not None
    assert abs(ahead.now_k - 1.0) < 0.2


def test_another_film_forgets_the_margin() -> None:
    margins, now_ms = history(30, 4.0)
    margins.clear()
    ahead = margins.look(now_ms, 1.0)
    assert ahead is not None and ahead.outlook is Outlook.UNKNOWN


def test_without_any_margin_there_is_no_forecast() -> None:
    assert MarginHistory().look(0, None) is None

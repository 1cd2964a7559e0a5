"""Which evening a moment belongs to: a session that runs past midnight is still that evening."""

from datetime import UTC, datetime, timedelta

#: Hours after midnight UTC at which a new evening begins; daylight saving changes nothing.
NEW_EVENING_AT_H = 6


def evening_of(at_ms: int) -> str:
    """Return the evening's date, ``YYYY-MM-DD``."""
    moment = datetime.fromtimestamp(at_ms / 1000, UTC) - timedelta(hours=NEW_EVENING_AT_H)
    return moment.date().isoformat()

"""Times as they are kept: an instant, a day or a month, as much as was known. As text they sort by when they begin."""

from __future__ import annotations

import datetime as dt


def has_clock(at: str) -> bool:
    """Whether a time as it is kept is an instant, not a day or a month."""
    return "T" in at


def is_month(date: str) -> bool:
    """Whether a date as it is kept is a month, not a day."""
    return len(date) == len("2019-03")


def last_day(date: str) -> str:
    """The last day that a day or month may mean, to be compared as text: "2019-03-31" for "2019-03"."""
    return f"{date}-31"[:10]


def earliest_instant(at: str) -> dt.datetime:
    """The instant kept, or the first moment, in UTC, of the day or month."""
    return dt.datetime.fromisoformat(at if has_clock(at) else f"{at}-01"[:10] + "T00:00:00Z")

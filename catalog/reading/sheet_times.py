"""Times of a sheet as one text: date and time apart, day numbers, days that stand first."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

from catalog.reading.rawtable import Exact

_BY_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?=$|[T ,])")
_MIDNIGHT = re.compile(r"[T ]00:00(:00)?$")
_MOST_DAYS = 80_000  # of a day number: to the year 2119
_LEAST_DAYS = 3_650  # a smaller one is a number of something else


def joined_time(texts: Sequence[str], *, day_zero: dt.date | None, day_first: bool | None) -> str:
    """The parts of a time as one text, the year first where that is known; "" where every part is blank.

    day_zero   the day that day numbers count from; None: numbers stay as they are
    day_first  whether the day stands before the month in dates with the year last; None: not known, so they stay
    """
    parts = [_part(text, day_zero, alone=len(texts) == 1) for text in texts if text]
    if len(parts) > 1:
        parts[0] = _MIDNIGHT.sub("", parts[0])  # a cell of a date alone, shown with a time
    text = " ".join(parts)
    if day_first is not None and (match := _BY_PARTS.match(text)) is not None:
        day, month = (match[1], match[3]) if day_first else (match[3], match[1])
        text = f"{match[4]}-{month}-{day}{text[match.end() :]}"
    return Exact(text) if len(parts) == 1 and type(texts[0]) is Exact and text == texts[0] else text


def _part(text: str, day_zero: dt.date | None, *, alone: bool) -> str:
    if type(text) is not Exact or day_zero is None:
        return text
    days = float(text)
    if 0 <= days < 1 and not alone:
        return (dt.datetime(2000, 1, 1) + dt.timedelta(seconds=round(days * 86_400))).strftime("%H:%M:%S")
    if not _LEAST_DAYS <= days <= _MOST_DAYS:
        return text
    instant = dt.datetime.combine(day_zero, dt.time()) + dt.timedelta(seconds=round(days * 86_400))
    return instant.date().isoformat() if days.is_integer() else instant.isoformat(" ")

"""Written times of a log in arrays: instants, days with the year last, and clock times without a date.

What a text means is for the one rule of the batch to say (`InstantReader`). It is asked once a minute of the log;
within a minute the seconds are counted. Texts of another shape are asked one by one.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.logs import Floats, Whole

InstantReader = Callable[[str], dt.datetime | str]
"""A typed time as an instant in UTC, or the sentence that says why not."""

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
DAY_S = 86_400
_WIDEST = 48  # bytes; no time is written longer
_PIECE = 1 << 16
_BY_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?=$|[T ,])")
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d):([0-5]\d)(?:[.,](\d{1,6})\d*)?")
_YEAR_FIRST = [6, 7, 8, 9, 2, 3, 4, 2, 0, 1]  # places of 12.05.2025 as 2025.05.12

Bytes = NDArray[np.bytes_]


class NotATime(ValueError):
    """A text that is no time, or not one only: its place and the sentence that says so."""

    def __init__(self, index: int, sentence: str) -> None:
        super().__init__(sentence)
        self.index = index


def packed(texts: Sequence[str]) -> Bytes | None:
    """Texts as an array of bytes, a tenth of their size; None where one of them is longer than a time or not ASCII."""
    try:
        array = np.array(texts if len(texts) else [""], dtype=np.bytes_)[: len(texts)]
    except UnicodeEncodeError:
        return None
    return array if array.dtype.itemsize <= _WIDEST else None


def instants_us(texts: Bytes, instant: InstantReader, *, day_first: bool | None = None) -> Whole:
    """Instants as microseconds since 1970 in UTC. [us]

    texts      shape (n,)
    day_first  whether 03/04/2025 is 3 April; None: as any day above 12 shows it, which holds for all of them
    Raises     NotATime for the first text that is none.
    """
    if day_first is None:
        day_first = _order(texts)
    known: dict[str, int | str] = {}

    def asked(text: str) -> int | str:
        if text not in known:
            moment = instant(text)
            known[text] = moment if isinstance(moment, str) else (moment - EPOCH) // dt.timedelta(microseconds=1)
        return known[text]

    result = np.empty(len(texts), dtype=np.int64)
    for begin in range(0, len(texts), _PIECE):
        piece = texts[begin : begin + _PIECE]
        rest = np.ones(len(piece), dtype=np.bool_)
        for rows, prefix, tail, since_us in _minutes(piece, day_first):
            for first, after in _stretches(prefix, tail):
                head, zone = prefix[first].tobytes().decode(), tail[first].tobytes().decode().rstrip("\0")
                if isinstance(minute := asked(f"{head}:00{zone}"), int):
                    result[begin + rows[first:after]] = minute + since_us[first:after]
                    rest[rows[first:after]] = False
        for index in np.flatnonzero(rest).tolist():
            text = _year_first(piece[index].decode(), day_first)
            if isinstance(value := asked(text), str):
                raise NotATime(begin + index, value)
            result[begin + index] = value
    return result


def _minutes(piece: Bytes, day_first: bool | None) -> Iterator[tuple[Any, Any, Any, Whole]]:
    """Rows of one layout: their places, "2025-05-12T08:30", what follows the seconds, and the time since the minute."""
    width = piece.dtype.itemsize
    if width < 19 or not len(piece):
        return
    letters = np.frombuffer(np.ascontiguousarray(piece).tobytes(), dtype=np.uint8).reshape(len(piece), width)
    if day_first is not None and (letters[:, 2] == letters[:, 5]).all() and np.isin(letters[:, 2], list(b"./-")).all():
        order = _YEAR_FIRST if day_first else [6, 7, 8, 9, 2, 0, 1, 2, 3, 4]
        letters = np.concatenate([letters[:, order], letters[:, 10:]], axis=1)
        letters[:, [4, 7]] = ord("-")
    fits = (letters[:, 4] == ord("-")) & (letters[:, 7] == ord("-")) & np.isin(letters[:, 10], list(b"T "))
    fits &= (letters[:, 13] == ord(":")) & (letters[:, 16] == ord(":"))
    digits = letters.astype(np.int64) - ord("0")
    is_digit = (digits >= 0) & (digits <= 9)
    fits &= is_digit[:, 17] & is_digit[:, 18] & (digits[:, 17] <= 5)
    since_us = (digits[:, 17] * 10 + digits[:, 18]) * 1_000_000
    ends = np.full(len(piece), 19)
    if width > 20:
        goes_on = np.isin(letters[:, 19], list(b".,")) & is_digit[:, 20]
        ends[goes_on] = 20
        worth = 100_000
        for place in range(20, width):
            goes_on &= is_digit[:, place]
            since_us[goes_on] += digits[goes_on, place] * worth
            ends[goes_on] += 1
            worth //= 10
    for end in np.unique(ends[fits]).tolist():
        rows = np.flatnonzero(fits & (ends == end))
        tail = letters[rows, end:]
        if (end == width) or (tail.size and not is_digit[rows, end].any()):
            yield rows, letters[rows, :16], tail, since_us[rows]


def _stretches(prefix: Any, tail: Any) -> Iterator[tuple[int, int]]:
    """Stretches of rows that are alike up to their minute and from their zone on."""
    changes = (prefix[1:] != prefix[:-1]).any(axis=1)
    if tail.shape[1]:
        changes |= (tail[1:] != tail[:-1]).any(axis=1)
    begins = [0, *(np.flatnonzero(changes) + 1).tolist()]
    yield from zip(begins, [*begins[1:], len(prefix)], strict=True)


def _order(texts: Bytes) -> bool | None:
    """Whether the day stands first in dates with the year last, as days above 12 show; None if none does."""
    shown: set[bool] = set()
    if not len(texts) or not _BY_PARTS.match(texts[0].decode()):
        return None
    for day in {text[:11] for text in texts.tolist()}:
        if (match := _BY_PARTS.match(day.decode())) is not None and max(int(match[1]), int(match[3])) > 12:
            shown.add(int(match[1]) > 12)
    return shown.pop() if len(shown) == 1 else None


def _year_first(text: str, day_first: bool | None) -> str:
    if day_first is None or (match := _BY_PARTS.match(text)) is None:
        return text
    day, month = (match[1], match[3]) if day_first else (match[3], match[1])
    return f"{match[4]}-{month}-{day}{text[match.end() :]}"


def is_clock(text: str) -> bool:
    """Whether *text* is a time of day alone, to the second."""
    return _CLOCK.fullmatch(text.strip()) is not None


def clock_s(texts: Bytes, *, same_day: bool = False) -> Floats:
    """Times of day as seconds since the midnight before the first of them, or each since the midnight before it. [s]

    The clock going back by more than half a day is midnight; going back by less stays as it is written.

    Raises  NotATime for what is no time of day, and where the clock goes on by more than half a day: without a date,
            nobody can tell on which day.
    """
    day_s = np.empty(len(texts))
    known: dict[bytes, float] = {}
    for index, text in enumerate(texts.tolist()):
        if (value := known.get(text)) is None:
            if (match := _CLOCK.fullmatch(text.decode().strip())) is None:
                raise NotATime(index, f"{text.decode()!r} is not a time of day.")
            value = int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3]) + float(f"0.{match[4] or 0}")
            known[text] = value
            if len(known) > _PIECE:
                known.clear()
        day_s[index] = value
    if same_day:
        return day_s
    steps = np.diff(day_s)
    if (far := steps > DAY_S / 2).any():
        index = int(far.argmax()) + 1
        raise NotATime(index, f"The clock goes on by more than 12 h here, to {texts[index].decode()}, without a date.")
    days = np.concatenate([[0], np.cumsum(steps < -DAY_S / 2)]) if len(day_s) else 0
    result: Floats = day_s + days * float(DAY_S)
    return result

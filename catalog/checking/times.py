"""Instants with their zone, days and months. A local time needs a zone; one that never was or was twice is refused.

Source: RFC 3339 (2002) for the forms; zones by the IANA time zone database, through `zoneinfo`.
"""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from zoneinfo import ZoneInfo

from catalog.checking.troubles import Trouble

_ISO = re.compile(
    r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,6})\d*)?)?)?"
    r"\s*(Z|UTC|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_DAY = re.compile(r"\d{4}-\d{1,2}-\d{1,2}")
_MONTH = re.compile(r"(\d{4})-(\d{1,2})")
_BY_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?:[T ,]+(.+))?")
_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


@lru_cache(maxsize=64)
def zone_called(name: str) -> ZoneInfo | Trouble:
    """The IANA zone *name*."""
    try:
        if not name or name.startswith(("/", ".")):
            raise ValueError(name)
        return ZoneInfo(name)
    except Exception:  # unknown names raise three kinds of errors, odd ones further kinds
        return Trouble(
            f"{name!r} is not a time zone.",
            "Write an IANA name such as Europe/Berlin, or UTC.",
            "unknown-zone",
        )


def utc_text(instant: dt.datetime) -> str:
    """ "2025-05-12T08:30:00Z", with a fraction only where there is one."""
    moment = instant.astimezone(dt.UTC)
    if moment.microsecond:
        return f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond:06d}".rstrip("0") + "Z"
    return f"{moment:%Y-%m-%dT%H:%M:%S}Z"


@lru_cache(maxsize=65536)
def read_instant(text: str, zone: str | None) -> dt.datetime | Trouble:
    """The instant that *text* names, in UTC.

    zone  IANA name for a time without an offset; None refuses such a time.
    """
    match = _ISO.fullmatch(text.strip())
    if match is None:
        by_parts = _BY_PARTS.fullmatch(text.strip())
        if by_parts is None:
            return Trouble(f"{text!r} is not a time.", "Write it as 2025-05-12 14:30, year first.", "not-a-time")
        day = _date_by_parts(text, by_parts)
        if isinstance(day, Trouble):
            return day
        return read_instant(f"{day.isoformat()} {by_parts[5] or ''}".strip(), zone)
    if match[4] is None:
        return Trouble(f"{text!r} has no time of day.", "Write it as 2025-05-12 14:30.", "no-time-of-day")
    try:
        year, month, day_number, hour, minute = (int(part) for part in match.groups()[:5])
        second, fraction = int(match[6] or 0), int((match[7] or "0").ljust(6, "0"))
        local = dt.datetime(year, month, day_number, hour, minute, second, fraction)
    except ValueError:
        return Trouble(f"{text!r} is not a time of this calendar.", "Correct the date or the time.", "not-a-time")
    offset = match[8]
    if offset:
        return _with_offset(text, local, offset)
    if zone is None:
        return Trouble(
            f"{text!r} has no zone.",
            'Add an offset such as +02:00 or Z, or write timezone = "Europe/Berlin" in batch.toml.',
            "no-zone",
        )
    zone_info = zone_called(zone)
    if isinstance(zone_info, Trouble):
        return zone_info
    return _in_zone(text, local, zone_info)


def local_date(text: str) -> str:
    """The day that a time with an offset states, by its own clock; "" for a text that `read_instant` refuses."""
    if (match := _ISO.fullmatch(text.strip())) is not None:
        return f"{match[1]}-{int(match[2]):02d}-{int(match[3]):02d}"
    by_parts = _BY_PARTS.fullmatch(text.strip())
    day = _date_by_parts(text, by_parts) if by_parts else None
    return day.isoformat() if isinstance(day, dt.date) else ""


def read_date(text: str) -> dt.date | Trouble:
    """A calendar day; a time of day after it (as spreadsheets add) must be midnight."""
    typed = text.strip()
    typed = re.sub(r"[T ]00:00(:00)?$", "", typed)
    if re.fullmatch(r"\d{4}-\d{1,2}-\d{1,2}", typed):
        try:
            return dt.date(*(int(part) for part in typed.split("-")))
        except ValueError:
            return Trouble(f"{text!r} is not a date of this calendar.", "Correct it.", "not-a-date")
    by_parts = _BY_PARTS.fullmatch(typed)
    if by_parts and not by_parts[5]:
        return _date_by_parts(text, by_parts)
    return Trouble(f"{text!r} is not a date.", "Write it as 2025-05-12, year first.", "not-a-date")


def read_day_or_month(text: str) -> str | Trouble:
    """A day, "2019-03-04", or a month, "2019-03": as much as is known of when something was, and no more."""
    if (month := _MONTH.fullmatch(text.strip())) is None:
        day = read_date(text)
        return day if isinstance(day, Trouble) else day.isoformat()
    try:
        return dt.date(int(month[1]), int(month[2]), 1).isoformat()[:7]
    except ValueError:
        return Trouble(f"{text!r} is not a month of this calendar.", "Write it as 2019-03, year first.", "not-a-date")


def states_a_clock(text: str) -> bool:
    """Whether a typed time says more than its day or month, or is nothing of the kind."""
    typed = text.strip()
    if _MONTH.fullmatch(typed) or _DAY.fullmatch(typed):
        return False
    by_parts = _BY_PARTS.fullmatch(typed)
    return by_parts is None or by_parts[5] is not None


def _with_offset(text: str, local: dt.datetime, offset: str) -> dt.datetime | Trouble:
    if offset.upper() in ("Z", "UTC"):
        return local.replace(tzinfo=dt.UTC)
    hours, minutes = int(offset[1:3]), int(offset[-2:])
    if hours > 15 or minutes > 59:
        return Trouble(f"{text!r} has an impossible offset.", "Offsets lie between -15:59 and +15:59.", "not-a-time")
    shift = dt.timedelta(hours=hours, minutes=minutes) * (-1 if offset[0] == "-" else 1)
    try:
        return (local - shift).replace(tzinfo=dt.UTC)
    except OverflowError:
        return Trouble(f"{text!r} is not a time of this calendar.", "Correct it.", "not-a-time")


def _in_zone(text: str, local: dt.datetime, zone: ZoneInfo) -> dt.datetime | Trouble:
    try:
        first = local.replace(tzinfo=zone, fold=0)
        second = local.replace(tzinfo=zone, fold=1)
        early, late = first.astimezone(dt.UTC), second.astimezone(dt.UTC)
    except OverflowError:
        return Trouble(f"{text!r} is not a time of this calendar.", "Correct it.", "not-a-time")
    if early == late:
        return early
    if early.astimezone(zone).replace(tzinfo=None) != local:  # PEP 495: a gap gives back another local time
        # Before the gap the clock ran by fold 0, after it by fold 1.
        width = abs(first.utcoffset() - second.utcoffset())  # type: ignore[operator]
        opened = _gap_start(local, zone)
        return Trouble(
            f"{text!r}: this local time did not exist in {zone.key} "
            f"(clocks went {opened:%H:%M}→{opened + width:%H:%M}).",
            "Correct it, or write it with an offset.",
            "time-did-not-exist",
        )
    offsets = " or ".join(_offset_text(moment) for moment in (first, second))
    return Trouble(
        f"{text!r} happened twice in {zone.key}: {early:%H:%MZ} or {late:%H:%MZ}.",
        f"Add {offsets}.",
        "time-happened-twice",
    )


def _gap_start(local: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    """The local minute at which clocks were put forward over *local*."""
    moment = local.replace(second=0, microsecond=0)
    while _missing(moment - dt.timedelta(minutes=1), zone):
        moment -= dt.timedelta(minutes=1)
    return moment


def _missing(local: dt.datetime, zone: ZoneInfo) -> bool:
    return local.replace(tzinfo=zone).astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != local


def _offset_text(moment: dt.datetime) -> str:
    text = f"{moment:%z}"
    return f"{text[:3]}:{text[3:5]}"


def _date_by_parts(text: str, match: re.Match[str]) -> dt.date | Trouble:
    """A date with the year last: taken when only one order of day and month is possible."""
    first, second, year = int(match[1]), int(match[3]), int(match[4])
    dates = []
    for day, month in ((first, second), (second, first)):
        try:
            dates.append(dt.date(year, month, day))
        except ValueError:
            continue
    if not dates:
        return Trouble(f"{text!r} is not a date of this calendar.", "Correct it.", "not-a-date")
    if len(set(dates)) == 2:
        one, other = (f"{date.day} {_MONTHS[date.month - 1]}" for date in dates)
        return Trouble(f"{text!r} can be {one} or {other}.", f"Write the year first, such as {dates[0]}.", "two-dates")
    return dates[0]

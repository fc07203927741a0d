"""Numbers, intervals, dates and names as text: the only place that rounds.

Rounding happens after computing, half away from zero, in decimal arithmetic (method.md 12), so that a
page, a table, an image and a download show the same digits. Text carries a true minus sign (U+2212).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MINUS = "\u2212"
PERCENT = " %"
DB_TO, DBM_TO = "–", " to "  # between the ends of a range of losses, and of levels, which may carry signs
AT_LEAST = "≥"

# What a number is counted in; a currency is three capitals. `js/rounding.mjs` has the same.
_UNITS = r"(?:[kMG]bit/s|[kKMG]i?B(?:/s)?|dBm?|[kMG]Hz|%|ms|s|min|minutes?|h|hours?|m|W|K|°C|(?!UTC)[A-Z]{3})(?!\w)"
_INSIDE_A_FIGURE = re.compile(rf" (?<=[\d{AT_LEAST}=] )(?={_UNITS}|(?<=[{AT_LEAST}=] )\d)")


def unbroken(text: str) -> str:
    """A text, or a page, in which no line ends inside "47 Mbit/s", "≥ 925" or "n = 24". Files have plain spaces."""
    return _INSIDE_A_FIGURE.sub("\u00a0", text)


def rounded(value: float, decimals: int) -> Decimal:
    """*value* with that many decimals, halves away from zero. The float's shortest text is what is rounded."""
    return Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)


def rounded_many(values: NDArray[np.float64], decimals: int | NDArray[np.intp]) -> NDArray[np.int64]:
    """`rounded` for many finite values at once, as whole numbers of the last decimal: 33.75 with one is 338.

    values    shape (n,), below 10^18 in their last decimal
    decimals  one for all, or of each, shape (n,). [1]
    """
    import numpy as np  # not needed to place a word

    places = np.broadcast_to(decimals, values.shape)
    size = np.abs(values) * 10.0**places
    below = np.floor(size)
    result = ((below + (size - below >= 0.5)) * np.sign(values)).astype(np.int64)
    # What lies on a half, or within a few last bits of one, is decided as the text of the number says.
    for i in np.flatnonzero((np.abs(size - below - 0.5) <= 1e-15 * size) | (size > 1e15)):
        result[i] = int(rounded(float(values[i]), int(places[i])).scaleb(int(places[i])))
    return result


def number(value: float, decimals: int, *, signed: bool = False) -> str:
    """A number as text; *signed* writes a plus, too. Zero has no sign."""
    text = repr(float(value))
    off_half = text[-1] in "012346789" and "e" not in text  # then every way of rounding gives the same
    digits = f"{abs(value) if off_half else abs(rounded(value, decimals)):.{decimals}f}"
    sign = MINUS if value < 0 else "+" if signed else ""
    return sign + digits if digits.strip("0.") else digits


def trimmed(value: float, decimals: int) -> str:
    """A number as text without zeros at its end: 45, 62.5."""
    text = number(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def rate_decimals(*values: float) -> int:
    """Decimals for rates shown together [Mbit/s]: none when all are 100 or more, else one."""
    return 0 if min(abs(value) for value in values) >= 100 else 1


def rate_decimals_many(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.intp]:
    """`rate_decimals` of many pairs at once, shape (n,)."""
    import numpy as np  # as above

    return np.where(np.minimum(np.abs(a), np.abs(b)) >= 100, 0, 1)


def rate(value: float, *, bound: bool = False, decimals: int | None = None) -> str:
    """A throughput [Mbit/s] without its unit: "544", "98.4", "≥ 925"."""
    text = number(value, rate_decimals(value) if decimals is None else decimals)
    return f"{AT_LEAST} {text}" if bound else text


def between(low: float, high: float, decimals: int, *, signed: bool = False) -> str:
    """A range of numbers: "26–94", and with "to" where an end may carry a sign: "−3 to +4"."""
    return ends(number(low, decimals, signed=signed), number(high, decimals, signed=signed))


def ends(low: str, high: str) -> str:
    """The two ends of a range, as they are printed: "26–94", "−3 to +4"."""
    signs = any(end.startswith((MINUS, "+")) for end in (low, high))
    return f"{low} to {high}" if signs else f"{low}–{high}"


def in_95(interval: str) -> str:
    """What an interval is, in tables: "95 %: 26–94"; "" for none."""
    return f"95{PERCENT}: {interval}" if interval else ""


def likely(interval: str) -> str:
    """The same in sentences: "likely 26–94"; "" for none."""
    return f"likely {interval}" if interval else ""


def decibels(value: float) -> str:
    """A loss or a level without its unit, one decimal, none where it is whole: 70, 69.6, −54."""
    return trimmed(value, 1)


def db_range(low: float, high: float) -> str:
    """A range of losses, "45–60"; a single value where both ends print the same."""
    first, last = decibels(low), decibels(high)
    return first if first == last else f"{first}{DB_TO}{last}"


def dbm_range(low: float, high: float) -> str:
    """A range of levels, lower first: "−57 to −43"."""
    first, last = decibels(low), decibels(high)
    return first if first == last else f"{first}{DBM_TO}{last}"


def percent(value: float, *, signed: bool = False) -> str:
    """A fraction as per cent with one decimal: 0.321 is "32.1 %"."""
    return f"{number(value * 100, 1, signed=signed)}{PERCENT}"


def points(value: float) -> str:
    """A difference of two shares in whole points: 0.083 is "8 points"."""
    return count(int(number(value * 100, 0)), "point")


def points_apart(low: float, high: float) -> str:
    """The interval of one share less another: "95 %: 2–14 points more", "95 %: 5 points less to 7 more"."""
    if low < 0 < high:
        less = _points_end(-low)
        return f"95{PERCENT}: {less} point{'' if less == '1' else 's'} less to {_points_end(high)} more"
    least, most = sorted((abs(low), abs(high)))
    return f"95{PERCENT}: {_points_end(least)}–{_points_end(most)} points {'more' if high > 0 else 'less'}"


def _points_end(share: float) -> str:
    """Whole points, below one with a decimal, and never none of what is more than nothing."""
    text = number(share * 100, 0 if share * 100 >= 1 else 1)
    return "under 0.1" if text == "0.0" and share > 0 else text


def mark_share(value: float) -> str:
    """A share that was set, without zeros at its end: 0.95 is "95 %"."""
    return f"{trimmed(value * 100, 1)}{PERCENT}"


def ratio(value: float) -> str:
    """A ratio, three decimals."""
    return number(value, 3)


def milliseconds(value: float) -> str:
    """A duration [ms] without its unit: whole from 100, one decimal below."""
    return number(value, 0 if abs(value) >= 100 else 1)


def duration(ms: float, *, exact: bool = False) -> str:
    """A duration [ms] with its unit, for readers: "84.2 ms", "150 ms", "1.52 s", "27.3 s".

    exact  of a time that was set, not measured: to the millisecond also in seconds, to the microsecond below
    """
    if abs(ms) < 1000:
        return f"{trimmed(ms, 3 if exact else 0 if abs(ms) >= 100 else 1)} ms"
    seconds = ms / 1000
    return f"{trimmed(seconds, 3 if exact else 2 if abs(seconds) < 10 else 1 if abs(seconds) < 100 else 0)} s"


def minutes(seconds: float) -> str:
    """A planned time [s] in words: "1 minute", "12.5 minutes"."""
    return count(1, "minute") if seconds == 60 else f"{trimmed(seconds / 60, 1)} minutes"


def width(mhz: int) -> str:
    """A channel width."""
    return f"{mhz} MHz"


def band(name: str) -> str:
    """A band as the trade says it: "5 GHz", "5 + 6 GHz"."""
    return f"{name.replace('+', ' + ')} GHz"


def count(number_of: int, one: str, many: str | None = None) -> str:
    """ "1 repeat", "3 repeats"."""
    return f"{number_of} {one if number_of == 1 else many or one + 's'}"


def listing(items: Sequence[str], last: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    return f"{', '.join(items[:-1])} {last} {items[-1]}" if len(items) > 1 else "".join(items)


def listing_of_many(items: Sequence[str], most: int) -> str:
    """ "a, b and 5 more": the first *most* by name, the others counted."""
    more = len(items) - most
    return listing([*items[:most], f"{more} more"] if more > 0 else items)


_DIRECTIONS = {"down": "download", "up": "upload"}

# Counts that `in_words` writes as words, from none on; scripts say the same ones.
COUNTED = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def way(direction: str) -> str:
    """A direction as people say it: "download", "upload"."""
    return _DIRECTIONS.get(direction, direction)


def transport(protocol: str) -> str:
    """A protocol as the trade writes it: "TCP", "UDP"; others as they are."""
    return protocol.upper() if protocol.lower() in ("tcp", "udp") else protocol


def streams(number_of: int) -> str:
    """ "1 stream", "2 streams"."""
    return count(number_of, "stream")


def in_words(number_of: int) -> str:
    """A count in a sentence: "two"; figures above twelve."""
    return COUNTED[number_of] if number_of < len(COUNTED) else str(number_of)


_GENERATIONS = {"802.11n": 4, "802.11ac": 5, "802.11ax": 6, "802.11be": 7}


def wi_fi(amendment: str) -> str:
    """A Wi-Fi standard by the name people know, "Wi-Fi 6"; where it has none, by its own."""
    return f"Wi-Fi {_GENERATIONS[amendment]}" if amendment in _GENERATIONS else amendment


def generation(amendment: str) -> str:
    """A Wi-Fi standard with the name people know: "802.11ax (Wi-Fi 6)"; others as they are."""
    return f"{amendment} ({wi_fi(amendment)})" if amendment in _GENERATIONS else amendment


def with_article(name: str) -> str:
    """A thing of its kind: "a laptop", "an older laptop"; left alone where it begins with an article already."""
    first = name.split(" ", 1)[0].lower()
    if first in ("a", "an", "the", "some", "two", "three"):
        return name
    vowel = first[:1] in "aeio" or first.startswith(("8", "11", "18"))
    return f"{'an' if vowel else 'a'} {name}"


def conditions(
    *,
    band_name: str,
    width_mhz: int,
    direction: str | None,
    protocol: str | None = None,
    flows: int | None = None,
    security: str | None = None,
) -> str:
    """The link of a group in words: "5 GHz, 80 MHz, download, TCP, 4 flows"; what is not stated is left out."""
    parts = [band(band_name), width(width_mhz)]
    parts += [way(direction)] if direction else []
    parts += [transport(protocol)] if protocol else []
    parts += [count(flows, "flow")] if flows else []
    parts += [security] if security else []
    return ", ".join(parts)


_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def date(text: str) -> str:
    """A date of the catalogue: "2025-05-12" is "12 May 2025", "2019-03" is "March 2019"; a time is cut to its day."""
    year, month, *day = text[:10].split("-")
    return f"{int(day[0])} {_MONTHS[int(month) - 1]} {int(year)}" if day else f"{_MONTHS[int(month) - 1]} {int(year)}"


def month(text: str) -> str:
    """The month of a date, for tables: "2025-11-30" and "2025-11" are "Nov 2025"."""
    year, number_of = text[:7].split("-")
    return f"{_MONTHS[int(number_of) - 1][:3]} {int(year)}"


def short_date(text: str) -> str:
    """A date for tables in which the day counts: "2025-05-02" is "2 May 2025", "2025-11" is "Nov 2025"."""
    day = text[8:10]
    return f"{int(day)} {month(text)}" if day else month(text)


def months(first: str, last: str) -> str:
    """The months between two dates in a sentence: "June 2024", "September 2022 to June 2024"."""
    return date_range(first[:7], last[:7])


def instant(when: datetime) -> str:
    """An instant that knows its zone, in UTC: "12 May 2025, 13:00 UTC"."""
    utc = when.astimezone(UTC)
    return f"{date(utc.date().isoformat())}, {utc:%H:%M} UTC"


def date_range(first: str, last: str) -> str:
    """ "12 May 2025", or "3 March 2022 to 12 May 2025"."""
    return date(first) if last.startswith(first) else f"{date(first)} to {date(last)}"


def clock(seconds: float) -> str:
    """A duration in minutes and seconds, "6:20", cut to whole seconds."""
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d}"


def hours(seconds: float) -> str:
    """A long duration: "9 h", "0.5 h"."""
    return f"{trimmed(seconds / 3600, 1)} h"


def part_of_time(part_s: float, whole_s: float) -> str:
    """A part of a time in the unit of the whole: "57 of 60 s", "10 of 11 minutes", "8 of 10 h"."""
    size, unit = (1, "s") if whole_s < 600 else (60, "minutes") if whole_s < 36_000 else (3600, "h")
    decimals = 0 if rounded(part_s / size, 0) != rounded(whole_s / size, 0) else 1
    return f"{trimmed(part_s / size, decimals)} of {trimmed(whole_s / size, decimals)} {unit}"


def about_years(years: float) -> str:
    """A time that rests on prices, roughly: "about 2 months", "about 2 years", "about 6.5 years"."""
    months = int(rounded(years * 12, 0))
    if months < 24:
        return f"about {count(max(months, 1), 'month')}"
    return f"about {trimmed(float(rounded(years * 2, 0)) / 2, 1)} years"


def money(value: float, currency: str) -> str:
    """An amount, with cents only where there are some: "199 EUR", "199.50 EUR"."""
    return f"{amount(value)} {currency}"


def amount(value: float) -> str:
    """The same without its currency: "199", "199.50"."""
    return number(value, 2).removesuffix(".00")


def celsius(value: float) -> str:
    """A temperature: "48.5 °C"."""
    return f"{number(value, 1)} °C"


def kelvin(value: float) -> str:
    """A difference of temperatures: "25.0 K"."""
    return f"{number(value, 1)} K"


def watts(value: float) -> str:
    """A power: "12.95 W", "19.5 W", with the decimals it was given, two at most."""
    return f"{trimmed(value, 2)} W"


def port_speed(mbit_s: float) -> str:
    """The speed of a wired port: "2.5 Gbit/s", "100 Mbit/s"."""
    return f"{trimmed(mbit_s / 1000, 1)} Gbit/s" if mbit_s >= 1000 else f"{trimmed(mbit_s, 1)} Mbit/s"


def held_by_port(mbit_s: float) -> str:
    """What held a value back, behind it: "held back by its 1 Gbit/s port"."""
    return f"held back by its {port_speed(mbit_s)} port"


def ordinal(rank: int) -> str:
    """ "1st", "2nd", "3rd", "4th", "11th"."""
    last = 0 if rank % 100 in (11, 12, 13) else rank % 10
    return f"{rank}{('th', 'st', 'nd', 'rd')[last] if last < 4 else 'th'}"


def ranks(best: int, worst: int, of: int) -> str:
    """A rank interval: "2nd of 9", "1st to 3rd of 9"."""
    return f"{ordinal(best)} of {of}" if best == worst else f"{ordinal(best)} to {ordinal(worst)} of {of}"


def short_ranks(best: int, worst: int) -> str:
    """A rank interval under a head that says so: "2", "1–3"."""
    return str(best) if best == worst else f"{best}–{worst}"


def lowered(text: str) -> str:
    """The text with a small first letter, for the middle of a sentence."""
    return text[:1].lower() + text[1:]


def capital(text: str) -> str:
    """The text with a capital first letter, the rest as it is."""
    return text[:1].upper() + text[1:]

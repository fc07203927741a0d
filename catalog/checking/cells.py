"""One cell to one value, by the kind of its column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from catalog.checking.names import fold, nearest
from catalog.checking.numbers import read_quantity
from catalog.checking.times import (
    local_date,
    read_date,
    read_day_or_month,
    read_instant,
    states_a_clock,
    utc_text,
    zone_called,
)
from catalog.checking.troubles import Trouble
from catalog.reading.columns import Column
from catalog.reading.decimal_marks import Marks, plain
from catalog.reading.format import OUTCOME_WORDS
from catalog.standards import BANDS
from catalog.units import Unit

_YES = frozenset({"yes", "y", "true", "1", "ja", "x"})
_NO = frozenset({"no", "n", "false", "0", "nein"})
NOT_AVAILABLE = frozenset({"n/a", "na", "n.a.", "-", "--", "none", "null", "nan", "?"})

NOTHING_HEARD = "nothing heard"
"""The answer for a level that a receiver writes, or leaves blank, when it receives no signal."""

_BELOW = {
    "attenuation_db": " Attenuation is positive: how much is lost.",
    "of_runs": " A summary is of at least two runs; one run is a row with its repeat.",
}
_ABOVE = {"on_time_share": " A share lies between 0 and 1: 97 % is 0.97."}
LOWEST_LEVEL_DBM = -110.0
HIGHEST_LEVEL_DBM = -10.0


@dataclass(frozen=True)
class Instant:
    """A time as stored and as typed; *utc* is a day or a month where no more is known."""

    utc: str
    typed: str
    local_date: str


@dataclass(frozen=True)
class Attempt:
    """What a throughput cell says: a rate [Mbit/s], or how the attempt ended."""

    mbit_s: float | None
    outcome: str | None


def read_cell(text: str, column: Column, *, marks: Marks, header: Unit | None, zone: str | None, sure: bool) -> Any:
    """The value of a cell that is not blank, or the Trouble with it.

    header  unit that the header states
    zone    IANA name for local times
    sure    a person confirmed this very text
    """
    match column.kind:
        case "text" | "file":
            return text
        case "count":
            return _whole(text, column, marks, header)
        case "number":
            return _bounded(text, column, marks, header)
        case "level":
            return _level(text, column, marks, header, sure)
        case "throughput":
            return _attempt(text, column, marks, header)
        case "when":
            return _instant(text, zone)
        case "date":
            day = read_date(text)
            return day if isinstance(day, Trouble) else day.isoformat()
        case "choice":
            return _choice(text, column)
        case "band":
            return read_band(text)
        case "yesno":
            return _yesno(text)


def read_band(text: str) -> str | Trouble:
    """ "5" for "5 GHz"; several links at once as "5+6", lowest first."""
    parts = [part.casefold().replace("ghz", "").strip().replace(",", ".") for part in plain(text).split("+")]
    parts = ["5" if part == "5.0" else "6" if part == "6.0" else part for part in parts]
    if any(part not in BANDS for part in parts) or len(set(parts)) != len(parts):
        return Trouble(
            f"{text!r} is no band.",
            "Write 2.4, 5 or 6, or 5+6 for a client using both at once.",
            "unknown-band",
        )
    return "+".join(sorted(parts, key=BANDS.index))


def _whole(text: str, column: Column, marks: Marks, header: Unit | None) -> int | Trouble:
    value = _bounded(text, column, marks, header)
    if isinstance(value, Trouble):
        return value
    if value != int(value):
        return Trouble(f"{text!r} is not a whole number.", f"{column.name} is a whole number.", "not-whole")
    return int(value)


def _bounded(text: str, column: Column, marks: Marks, header: Unit | None) -> float | Trouble:
    value = read_quantity(text, marks, wanted=column.unit, header=header)
    if isinstance(value, Trouble):
        return value
    unit = f" {column.unit.name}" if column.unit else ""
    if column.low is not None and value < column.low:
        return Trouble(
            f"{text} is below {column.low:g}{unit}.{_BELOW.get(column.name, '')}", "Correct the cell.", "too-small"
        )
    if column.high is not None and value > column.high:
        return Trouble(
            f"{text} is above {column.high:g}{unit}.{_ABOVE.get(column.name, '')}", "Correct the cell.", "too-large"
        )
    return value


def _level(text: str, column: Column, marks: Marks, header: Unit | None, sure: bool) -> float | Trouble:
    ask = "Correct the cell or answer it once in answers.toml."
    if text.rstrip().endswith("%"):
        return Trouble(
            f"{text} is a percentage. A received level is in dBm, and a percentage cannot be turned into it.",
            "Read the level in dBm, or leave the cell empty.",
            "level-percent",
        )
    value = read_quantity(text, marks, wanted=column.unit, header=header)
    if isinstance(value, Trouble):
        return value
    if value == 0:
        return Trouble(
            "0 dBm is not a received level; many programs write 0 for nothing heard.",
            "Correct the cell.",
            "level-zero",
            options=(NOTHING_HEARD,),
        )
    if value > 0:
        return Trouble(
            f"{text} is positive. A received level is below 0 dBm. Did you mean -{text.lstrip('+ ')}?",
            "Correct the cell.",
            "level-positive",
            options=(NOTHING_HEARD,),
        )
    if value > HIGHEST_LEVEL_DBM and not sure:
        strong = f"{text} dBm is stronger than {HIGHEST_LEVEL_DBM:g} dBm, which no receiver reads in a room."
        return Trouble(strong, f"{ask} Repeat it there to confirm.", "level-too-strong", askable=True)
    if value < LOWEST_LEVEL_DBM and not sure:
        weak = f"{text} dBm is weaker than {LOWEST_LEVEL_DBM:g} dBm, below the noise of any channel."
        return Trouble(weak, f"{ask} Repeat it there to confirm.", "level-too-weak", askable=True)
    return value


def _attempt(text: str, column: Column, marks: Marks, header: Unit | None) -> Attempt | Trouble:
    word = fold(text)
    if (outcome := OUTCOME_WORDS.get(word)) is not None:
        return Attempt(None, outcome)
    if word in NOT_AVAILABLE:
        return Trouble(
            f"{text!r} can mean that it was not possible or that nobody tried.",
            'Write "not possible", or leave the row out.',
            "not-available",
        )
    value = read_quantity(text, marks, wanted=column.unit, header=header)
    if isinstance(value, Trouble):
        if value.code == "not-a-number":
            near = nearest(text, OUTCOME_WORDS)
            meant = f" Did you mean {near[0]}?" if near else ""
            return Trouble(
                f"{text!r} is neither a number nor an outcome.{meant}",
                "Write a number, or finished, did not finish, client fault, aborted, not possible.",
                "not-a-number",
            )
        return value
    if value < 0:
        return Trouble(f"{text} is negative. A throughput is not.", "Correct the cell.", "too-small")
    return Attempt(value, None)


def _instant(text: str, zone: str | None) -> Instant | Trouble:
    if not states_a_clock(text):
        day = read_day_or_month(text)
        return day if isinstance(day, Trouble) else Instant(day, text, day)
    moment = read_instant(text, zone)
    if isinstance(moment, Trouble):
        return moment
    zone_info = zone_called(zone) if zone is not None else None
    if isinstance(zone_info, ZoneInfo):
        return Instant(utc_text(moment), text, moment.astimezone(zone_info).date().isoformat())
    return Instant(utc_text(moment), text, local_date(text))


def _choice(text: str, column: Column) -> str | Trouble:
    word = fold(text).replace("_", " ")
    choice = column.choices.get(word) or column.choices.get(word.replace("-", " "))
    if choice is not None:
        return choice
    allowed = list(dict.fromkeys(column.choices.values()))
    near = nearest(text, column.choices)
    meant = f" Did you mean {near[0]}?" if near else ""
    return Trouble(
        f"{text!r} is not one of {', '.join(allowed)}.{meant}",
        "Correct the cell.",
        "unknown-word",
        proposals=tuple(near),
    )


def _yesno(text: str) -> int | Trouble:
    word = fold(text)
    if word in _YES:
        return 1
    if word in _NO:
        return 0
    return Trouble(f"{text!r} is neither yes nor no.", "Write yes or no.", "unknown-word")


def blank(column: Column, stem: str) -> Trouble:
    """The trouble with a required cell that holds nothing."""
    return Trouble(
        f"{column.name} is empty.",
        f"Fill it in, or give it once under [defaults.{stem}] in batch.toml.",
        "missing",
        options=(NOTHING_HEARD,) if column.kind == "level" else (),
    )

"""Runs that were repeated after their row was noted: another log lies under the name, and a click takes its time.

No line that is noted is replaced: an answer behind the others has the time of the row read as that of the new log.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from builder.watching.day_rows import Row
from builder.watching.jobs import REPEATED, Asked, Question
from builder.watching.judging import Judged
from builder.watching.landed import Landed, when_text
from builder.watching.states import Sense
from catalog.checking.planned import is_of_desk
from catalog.checking.times import read_instant, zone_called
from catalog.reading.sources import file_of

ANOTHER_LOG = "log-of-another-row"  # as `check` calls it


def ask_of_repeated(
    day: Sequence[Row], wrong: Judged, log_of: Callable[[Row], Landed | None], zone: str | None
) -> None:
    """Put the question whether a run was repeated in the place of what `check` says of a log that is another one.

    log_of  the log of a noted row as it is now; None while it may be growing
    zone    of the batch
    """
    for row in day:
        senses = wrong.of_rows.get(row.place, [])
        number = next((number for number, one in enumerate(senses) if one.code == ANOTHER_LOG), None)
        if number is None or row.filled is None or not is_of_desk(row.filled.source):
            continue
        typed, log = row.filled.texts.get("when", ""), log_of(row)
        was = read_instant(typed, zone)
        if log is None or log.started is None or not isinstance(was, datetime):
            continue
        before, now = _in_words(was, log.started, zone)
        noted = f"{file_of(row.filled.source)} row {row.filled.number}"
        sense = Sense(
            REPEATED,
            f"{log.path} was noted as of {before}, and the log there now begins at {now}.",
            f"If the run was repeated, take the new time. Level and note stay as they are in {noted}: correct them there "
            "if they changed. If it was not repeated, put the noted log back.",
            grave=True,
            place=row.place,
            log=log.path,
            asks=(f"It was repeated at {now}",),
            column="when",
        )
        senses[number] = sense
        means = {sense.asks[0]: when_text(log.started, zone)}
        wrong.questions[Asked(row.place, REPEATED, "when")] = Question(
            REPEATED, sense.asks, free=False, typed=typed, written=means
        )


def _in_words(one: datetime, other: datetime, zone: str | None) -> tuple[str, str]:
    """Two times of the batch: "09:29", of two days "30 Nov, 09:29"."""
    place = None if zone is None else zone_called(zone)
    first, second = (at.astimezone(place) if isinstance(place, ZoneInfo) else at for at in (one, other))
    if first.date() == second.date():
        return f"{first:%H:%M}", f"{second:%H:%M}"
    return f"{first.day} {first:%b}, {first:%H:%M}", f"{second.day} {second:%b}, {second:%H:%M}"

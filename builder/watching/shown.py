"""Rows and logs of a day as its page shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from builder import wording
from builder.watching.day_rows import Row, what_is
from builder.watching.judging import Judged
from builder.watching.landed import Landed, may_be_of
from builder.watching.states import DayRow, Measured, OtherLog, Place, Sense
from catalog.checking.times import read_instant, zone_called
from catalog.reading.format import TABLES

_TYPED = ("level_dbm", "note")


@dataclass(frozen=True, slots=True)
class Shown:
    """What rows and logs are shown with.

    measured  the rows that are sound
    models    device -> name of its model
    typed     on the page
    zone      of the batch
    one_band  whether all runs are of one band, which then need not be said of each
    """

    wrong: Judged
    measured: dict[Place, Measured]
    models: Mapping[str, str]
    typed: Mapping[Place, Mapping[str, str]]
    zone: str | None
    one_band: bool

    def row(self, row: Row, log: Landed | None) -> DayRow:
        """A row of the day; *log* is what landed of it and is not written yet."""
        measured = self.measured.get(row.place)
        return DayRow(
            place=row.place,
            order=row.order,
            what=what_is(row.filled or row.row, self.models, with_band=not self.one_band),
            state=self._state(row, log),
            log=row.log if log is None else log.path,
            at=self._at(row, log, measured),
            value="" if measured is None else _value(row.stem, measured),
            typed={} if row.filled is not None else self._beside(row, log),
            senses=tuple(self.wrong.of_rows.get(row.place, ())),
        )

    def other(self, log: Landed, likely: Row | None, open_rows: Sequence[Row]) -> OtherLog:
        """A log that no row names. What was said of the row that it is likely of, is said of the log."""
        senses = [Sense(code, text, remedy, grave=True, log=log.path) for code, text, remedy in log.wrong]
        if likely is not None:
            senses = self.wrong.of_rows.pop(likely.place, [])
        if likely is not None:
            self.wrong.held.discard(likely.place)
            self.measured.pop(likely.place, None)
        return OtherLog(
            log=log.path,
            likely=None if likely is None else likely.place,
            may_be=tuple(row.place for row in may_be_of(log.kind, open_rows)),
            senses=tuple(senses),
        )

    def _state(self, row: Row, log: Landed | None) -> str:
        if row.place in self.wrong.held:
            return "held"
        if row.filled is not None:
            return "noted"
        return "open" if log is None else "landed"

    def _beside(self, row: Row, log: Landed | None) -> dict[str, str]:
        """What may be typed beside a log, and what stands there."""
        on_page = self.typed.get(row.place, {})
        timeless = log is not None and log.kind and log.started is None
        names = ("when", *_TYPED) if timeless else _TYPED
        known = {column.name for column in TABLES[row.stem].columns}
        return {name: on_page.get(name, row.row.texts.get(name, "")) for name in names if name in known}

    def _at(self, row: Row, log: Landed | None, measured: Measured | None) -> str:
        """When it was measured, by the clock of the batch: "14:03"."""
        instant: object = log.started if log is not None else measured.started if measured is not None else None
        if instant is None and row.filled is not None:
            instant = read_instant(row.filled.texts.get("when", ""), self.zone)
        if not isinstance(instant, datetime):
            return ""
        place = None if self.zone is None else zone_called(self.zone)
        return f"{instant.astimezone(place) if isinstance(place, ZoneInfo) else instant:%H:%M}"


def _value(stem: str, one: Measured) -> str:
    """The result of a row in short: "612 Mbit/s", "148 of 150 answered"."""
    values, digest = one.values, one.digest
    if stem == "runs" and values["throughput_mbit_s"] is not None:
        return f"{wording.rate(values['throughput_mbit_s'])} Mbit/s"
    if "mean_mbit_s" in digest:
        return f"{wording.rate(digest['mean_mbit_s'])} Mbit/s"
    if "finished" in digest:
        return f"{digest['finished']:.0f} of {digest['planned']:.0f} answered"
    return str(values.get("outcome") or "")

"""Rows of the waiting chart: how long the planned requests of one role on one machine waited.

Percentiles are over planned requests, so one may fall among those that failed or were never made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder.charts.figures import TableTwin
from builder.wording import duration, mark_share, milliseconds, percent

DRAWN_PERCENTS = (50, 90, 99)
"""Where a bar begins, where it ends, and where its tick stands. [%]"""

NO_FIGURES = "no figures"
ROUGH = "90 % is rough"
DOTS = "few requests: a dot for each answer"


@dataclass(frozen=True, slots=True)
class Mark:
    """What is asked of a role: *share* of the planned requests within *ms*; *good* is more than enough. [1, ms]"""

    ms: float
    share: float
    good: bool = False

    def __post_init__(self) -> None:
        if self.ms <= 0:
            raise ValueError(f"a mark lies above 0 ms, got {self.ms:g}")

    @property
    def text(self) -> str:
        """ "150 ms", "good: 4 s"."""
        text = duration(self.ms, exact=True)
        return f"good: {text}" if self.good else text

    @property
    def sentence(self) -> str:
        """ "95 % within 150 ms"."""
        return f"{mark_share(self.share)} within {duration(self.ms, exact=True)}"


@dataclass(frozen=True, slots=True)
class Within:
    """A percentile: None where it fell among failed requests; thin where few requests lie beyond it. [ms]"""

    ms: float | None
    thin: bool = False

    @property
    def text(self) -> str:
        """ "812", "failed", "812, thin"."""
        text = "failed" if self.ms is None else milliseconds(self.ms)
        return f"{text}, thin" if self.thin else text


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingRow:
    """One row.

    label, detail  what it is, in bold, and the rest of it: client, spot, loss, band; or the firmware
    planned        requests; 0 for a row without figures, which shows its remark alone. [1]
    made, finished requests that were made, and of these those that were answered. [1]
    in_time        requests within the target; None without one. [1]
    good_in_time   requests within what is good; None without such a mark. [1]
    within         percent -> percentile, for DRAWN_PERCENTS where planned
    slowest_ms     the slowest answer; None where none came. [ms]
    answers_ms     all answers, where they are so few that the median says little; else empty. [ms]
    marks          the target first, if there are any
    remark         what belongs to the share: what was asked for, or why so few requests show nothing
    missed         whether fewer came in time than were asked for
    broke_off      "broke off at 6:52 of 10:00"; "" for a row that ran to its end
    """

    label: str
    detail: str
    planned: int = 0
    made: int = 0
    finished: int = 0
    in_time: int | None = None
    good_in_time: int | None = None
    within: Mapping[int, Within] | None = None
    slowest_ms: float | None = None
    answers_ms: tuple[float, ...] = ()
    marks: tuple[Mark, ...] = ()
    remark: str = ""
    missed: bool = False
    broke_off: str = ""

    def __post_init__(self) -> None:
        if not 0 <= self.finished <= self.made <= self.planned:
            raise ValueError(
                f"{self.label!r} has {self.planned} planned requests, {self.made} made and {self.finished} answered"
            )
        if self.in_time is not None and not 0 <= self.in_time <= self.finished:
            raise ValueError(f"{self.label!r} has {self.in_time} in time, but {self.finished} were answered")
        if self.good_in_time is not None and not 0 <= self.good_in_time <= self.finished:
            raise ValueError(f"{self.label!r} has {self.good_in_time} good ones, but {self.finished} were answered")
        if self.planned and set(self.percentiles) != set(DRAWN_PERCENTS):
            raise ValueError(f"{self.label!r} needs the percentiles {DRAWN_PERCENTS}, got {sorted(self.percentiles)}")
        if self.finished and self.slowest_ms is None:
            raise ValueError(f"{self.label!r} has answers, but no slowest one")

    @property
    def percentiles(self) -> Mapping[int, Within]:
        return self.within or {}

    @property
    def failed(self) -> int:
        """Made, and not answered. [1]"""
        return self.made - self.finished

    @property
    def never_made(self) -> int:
        return self.planned - self.made

    @property
    def lost_share(self) -> float:
        """Failed and never made, of those planned. [1]"""
        return (self.planned - self.finished) / self.planned if self.planned else 0.0

    @property
    def count(self) -> str:
        """ "291 of 300 in time", "all 15 in time"; without a target how many were answered."""
        if not self.planned:
            return NO_FIGURES
        number, what = (self.finished, "answered") if self.in_time is None else (self.in_time, "in time")
        return f"all {number} {what}" if number == self.planned > 1 else f"{number} of {self.planned} {what}"

    @property
    def count_within(self) -> str:
        """The count with the target in it, for where the target has no words: "291 of 300 within 150 ms"."""
        target = next((mark for mark in self.marks if not mark.good), None)
        return self.count if target is None else self.count.replace("in time", f"within {target.text}")

    @property
    def share(self) -> str:
        """The share in time as printed; "" where the count says it all."""
        return "" if self.in_time in (None, self.planned) else percent((self.in_time or 0) / self.planned)

    @property
    def lost(self) -> str:
        """ "8 failed, 16 never made"; "" where every request was answered."""
        failed = f"{self.failed} failed" if self.failed else ""
        return ", ".join(filter(None, (failed, f"{self.never_made} never made" if self.never_made else "")))

    @property
    def short_words(self) -> str:
        """What stands below the count in little room: share, what was lost, and how it ended."""
        return "; ".join(filter(None, (self.share, self.lost, self.broke_off))) if self.planned else self.remark

    @property
    def words(self) -> str:
        """What stands below the count: share, what was asked, what was lost, and how it ended."""
        parts = [", ".join(filter(None, (self.share, self.remark))), self.lost, self.broke_off]
        if self.answers_ms:
            parts.append(DOTS)
        elif self.planned and self.percentiles[90].thin and self.percentiles[90].ms is not None:
            parts.append(ROUGH)
        return "; ".join(filter(None, parts))


def waiting_table(rows: Sequence[WaitingRow], *, heading: str) -> TableTwin:
    """Every value of the rows as text. heading: of the column of labels"""
    good = ("Good",) if any(row.good_in_time is not None for row in rows) else ()
    percents = (f"{p} % (ms)" for p in DRAWN_PERCENTS)
    return TableTwin(
        caption="Requests in time, and within how many ms so many of the planned ones were answered",
        columns=(heading, "In time", *good, "Asked for", *percents, "Failed", "Never made"),
        rows=tuple(_cells(row, with_good=bool(good)) for row in rows),
    )


def _cells(row: WaitingRow, *, with_good: bool) -> tuple[str, ...]:
    name = ", ".join(filter(None, (row.label, row.detail)))
    good = (_good(row),) if with_good else ()
    asked = "; ".join(mark.sentence + (" is good" if mark.good else "") for mark in row.marks) or "no target"
    if not row.planned:
        untested = ["not tested"] * (len(DRAWN_PERCENTS) + 2)
        return (name, row.words or NO_FIGURES, *("not tested" for _ in good), asked, *untested)
    count = "; ".join(filter(None, (row.count, row.remark, row.broke_off)))
    percentiles = (row.percentiles[p].text for p in DRAWN_PERCENTS)
    lost = (f"{row.failed} of {row.planned}", f"{row.never_made} of {row.planned}")
    return (name, count, *good, asked, *percentiles, *lost)


def _good(row: WaitingRow) -> str:
    """ "288 of 300, 96.0 %"."""
    if row.good_in_time is None:
        return "no such mark"
    return f"{row.good_in_time} of {row.planned}, {percent(row.good_in_time / row.planned)}"

"""Long runs of requests: how long answers took over hours, with one client.

Figures come from the digest of the run's log (catalog.digesting.answers). Waits are ms, times s.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from builder import wording
from builder.under_load.log_coverage import LogCoverage
from catalog.digesting.answers import HOUR_PERCENTS
from catalog.digesting.latency import is_thin
from catalog.records import LongRun

_HOUR = re.compile(r"hour_(\d+)_requests")
LEAST_HOURS = 2
SHORT_S = 360.0  # a tenth of an hour, below which hours would read as 0
LEAST_GAP_S = 60.0  # (practice) a shorter gap is said where more than GAPS_SAID is missing
GAPS_SAID = 0.01


@dataclass(frozen=True, slots=True)
class HourOfWaits:
    """One hour of a run, counted from 0 at its first request.

    requests  made in it, answered or not, and never made. [1]
    ms        HOUR_PERCENTS -> what so many of 100 were answered within; None: so many were not answered. [ms]
    late      of its requests, beyond the mark or without an answer; None without a mark. [1]
    """

    number: int
    requests: int
    finished: int
    logged_s: float
    ms: Mapping[int, float | None]
    late: int | None

    def tells(self, percent: int) -> bool:
        """Whether at least five of its requests lie beyond the percentile."""
        return not is_thin(percent, planned=self.requests)


@dataclass(frozen=True, slots=True)
class LongWaits:
    """Figures of one log of requests.

    ms         HOUR_PERCENTS -> as in an hour, of the whole run. [ms]
    max_ms     the slowest answer; None where none came. [ms]
    late       None without a mark. [1]
    outage_s   the longest time without any answer, though requests were made, and when it began; 0 without one. [s]
    """

    requests: int
    finished: int
    failed: int
    not_made: int
    duration_s: float
    logged_s: float
    coverage: LogCoverage
    ms: Mapping[int, float | None]
    max_ms: float | None
    late: int | None
    mark_ms: float | None
    outage_s: float
    outage_at_s: float
    hours: tuple[HourOfWaits, ...]

    @property
    def gap_words(self) -> str:
        """The longest gap and how much was logged; "" where hardly anything is missing, as between requests at random."""
        missing_s = self.duration_s - self.logged_s
        little = missing_s < GAPS_SAID * self.duration_s and (self.coverage.longest_gap_s or 0.0) < LEAST_GAP_S
        return "" if little else self.coverage.text

    def tells(self, percent: int) -> bool:
        """Whether at least five requests of the run lie beyond the percentile."""
        return not is_thin(percent, planned=self.requests)


def long_waits(digest: Mapping[str, float], *, mark_ms: float | None) -> LongWaits | None:
    """The figures in a digest; None where it is not that of a long run of requests."""
    if "longest_outage_s" not in digest:
        return None
    numbers = sorted(int(match[1]) for figure in digest if (match := _HOUR.fullmatch(figure)))
    return LongWaits(
        requests=int(digest["rows"]),
        finished=int(digest["finished"]),
        failed=int(digest["failed"]),
        not_made=int(digest["not_made"]),
        duration_s=digest["duration_s"],
        logged_s=digest["logged_s"],
        coverage=LogCoverage(
            duration_s=digest["duration_s"],
            logged_s=digest["logged_s"],
            longest_gap_s=digest["longest_gap_s"],
            step_s=digest["logged_s"] / digest["rows"],
        ),
        ms={percent: digest.get(f"p{percent}_ms") for percent in HOUR_PERCENTS},
        max_ms=digest.get("max_ms"),
        late=_count(digest, "late"),
        mark_ms=mark_ms,
        outage_s=digest["longest_outage_s"],
        outage_at_s=digest["outage_at_s"],
        hours=tuple(_hour(digest, number) for number in numbers),
    )


def _hour(digest: Mapping[str, float], number: int) -> HourOfWaits:
    of = f"hour_{number}_"
    return HourOfWaits(
        number=number,
        requests=int(digest[f"{of}requests"]),
        finished=int(digest[f"{of}finished"]),
        logged_s=digest[f"{of}logged_s"],
        ms={percent: digest.get(f"{of}p{percent}_ms") for percent in HOUR_PERCENTS},
        late=_count(digest, f"{of}late"),
    )


def _count(digest: Mapping[str, float], figure: str) -> int | None:
    return int(digest[figure]) if figure in digest else None


def waits_sentence(run: LongRun, waits: LongWaits) -> str:
    """How long answers took over what time, how many came late, and the longest outage."""
    lived = " until it broke off" if run.outcome == "did not finish" else ""
    within = [
        f"{_of_100(percent)} within {_ms(ms)}"
        for percent, ms in waits.ms.items()
        if ms is not None and waits.tells(percent)
    ]
    parts = []
    if within:
        parts.append(wording.listing([within[0].replace(" within", " were answered within"), *within[1:]]))
    if waits.late is not None and waits.mark_ms is not None:
        mark = wording.duration(waits.mark_ms, exact=True)
        parts.append(f"{late_words(waits.late, waits.requests)} took longer than {mark} or had no answer")
    parts.append(outage_words(waits))
    if waits.gap_words:
        parts.append(waits.gap_words)
    over = f"{_lasted(waits.duration_s)} and {wording.count(waits.requests, 'request')}"
    return f"Over {over}{lived}: {'; '.join(parts)}."


def _lasted(seconds: float) -> str:
    return wording.hours(seconds) if seconds >= SHORT_S else f"{wording.trimmed(seconds, 1)} s"


def late_words(late: int, requests: int) -> str:
    """A share of requests, "1.4 %", "all"; of few, how many: "none", "3 of 86400"."""
    if late in (0, requests):
        return "all" if late else "none"
    return f"{late} of {requests}" if late < 5 else wording.percent(late / requests)


def outage_words(waits: LongWaits) -> str:
    """The longest outage, and how many requests were not answered."""
    unanswered = waits.requests - waits.finished
    if not unanswered:
        return "every request was answered"
    if not waits.finished:
        return "no request was answered"
    return f"longest outage {wording.trimmed(waits.outage_s, 1)} s, {wording.count(unanswered, 'request')} not answered"


def _of_100(percent: int) -> str:
    return "half" if percent == 50 else f"{percent} of 100"


def _ms(ms: float) -> str:
    return wording.duration(ms)


def hours_sentence(waits: LongWaits) -> str:
    """Between which values the 95th percentile of the hours lay; hours with too few requests say nothing."""
    telling = [hour for hour in waits.hours if hour.tells(95)]
    if len(waits.hours) < LEAST_HOURS:
        return "It lasted no more than an hour, so it does not show how hours differ."
    if len(telling) < LEAST_HOURS:
        return "Too few requests an hour to tell hours apart: 100 are needed for the slowest 5 of 100."
    ordered = sorted(telling, key=lambda hour: (hour.ms[95] is None, hour.ms[95] or 0.0, hour.number))
    least, most = ordered[0], ordered[-1]
    if least.ms[95] is None:
        return "In every hour more than 5 of 100 requests were not answered."
    slowest = "more than 5 of 100 not at all" if most.ms[95] is None else f"within {_ms(most.ms[95])}"
    return (
        f"By hour, 95 of 100 were answered within {_ms(least.ms[95])} in the quickest, hour {least.number + 1}; in the "
        f"slowest, hour {most.number + 1}, {slowest}."
    )


def untold_sentence(run: LongRun, waits: LongWaits) -> str:
    """What these requests cannot carry."""
    parts = []
    failing = [percent for percent, ms in waits.ms.items() if ms is None and waits.tells(percent)]
    thin = [percent for percent in waits.ms if not waits.tells(percent)]
    if failing:
        parts.append(f"Fewer than {_of_100(failing[0])} were answered at all.")
    if thin:
        parts.append(
            f"Too few requests to say within what time {wording.listing([_of_100(p) for p in thin])} are answered."
        )
    if waits.mark_ms is None:
        parts.append("No mark was set, so nothing says how many were late.")
    way = "" if run.direction else " nor which direction was slow,"
    parts.append(
        f"Waits do not say how much came through,{way} and whether hours differ by more than chance is not judged."
    )
    return " ".join(parts)


def waits_json(run: LongRun, waits: LongWaits) -> dict[str, Any]:
    """Figures of a long run of requests: waits in ms, times in s; a percentile is null where so many were not answered."""
    return {
        "until_the_collapse": run.outcome == "did not finish",
        "requests": waits.requests,
        "finished": waits.finished,
        "failed": waits.failed,
        "not_made": waits.not_made,
        "duration_s": waits.duration_s,
        "logged_s": waits.logged_s,
        "longest_gap_s": waits.coverage.longest_gap_s,
        **{f"p{percent}_ms": ms for percent, ms in waits.ms.items()},
        "thin": [percent for percent in waits.ms if not waits.tells(percent)],
        "max_ms": waits.max_ms,
        "mark_ms": waits.mark_ms,
        "late": waits.late,
        "late_share": None if waits.late is None else waits.late / waits.requests,
        "longest_outage_s": waits.outage_s,
        "outage_at_s": waits.outage_at_s,
        "hours": [
            {
                "hour": hour.number + 1,
                "requests": hour.requests,
                "finished": hour.finished,
                "logged_s": hour.logged_s,
                **{f"p{percent}_ms": ms for percent, ms in hour.ms.items()},
                "thin": [percent for percent in hour.ms if not hour.tells(percent)],
                "late": hour.late,
            }
            for hour in waits.hours
        ],
        "hours_sentence": hours_sentence(waits),
        "untold_sentence": untold_sentence(run, waits),
    }

"""What an assumed day-to-day spread is worth: an interval as it is, and were days to scatter twice as much."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Bench
from builder.bench.naming import device_name, full_name
from builder.windows.ranking import Ranking
from builder.windows.window_means import window_means
from catalog.method import PRACTICE_SESSION_SPREAD


@dataclass(frozen=True, slots=True)
class AssumedDays:
    """The first row of a ranking that leans on an assumed spread.

    half_width, doubled  of its 95 % interval, and were days to scatter twice as much [Mbit/s]
    """

    sentence: str
    half_width: float
    doubled: float


def assumed_days(bench: Bench, rankings: Iterable[Ranking]) -> AssumedDays | None:
    """An example from the first ranking that has one; None where every house shows or declares how its days scatter."""
    for ranking in rankings:
        for entry in ranking.ranked:
            line = bench.line(entry.subject, ranking.group, "attenuation")
            if "session_spread" not in entry.assumed or entry.low is None or entry.high is None or line is None:
                continue
            (doubled,) = window_means(bench.scatter.with_days_doubled(), [line], ranking.range).half_width.tolist()
            assert not math.isnan(doubled)
            half = (entry.high - entry.low) / 2
            decimals = wording.rate_decimals(entry.value)
            where = full_name(bench, ranking.group)
            sentence = (
                f"Where no reference device shows it, days are assumed to scatter by "
                f"{wording.percent(PRACTICE_SESSION_SPREAD)}. Were it twice as much, the {ranking.window} window of "
                f"{device_name(bench, entry.subject.device)} ({where}) would be known to ±{wording.number(doubled, decimals)} "
                f"Mbit/s instead of ±{wording.number(half, decimals)}."
            )
            return AssumedDays(sentence, half, doubled)
    return None

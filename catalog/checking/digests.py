"""What a log comes to, computed once at entry. Names end in their unit, or are counts.

Throughput: means are weighted by time; percentiles by nearest rank over intervals (Hyndman & Fan 1996, type 1).
Requests: percentiles by nearest rank over planned requests, failures last; one that falls among the
failures is left out.
"""

from __future__ import annotations

import numpy as np

from catalog.reading.logs import FAILED, FINISHED, NOT_MADE, Log, Whole

PERCENTS = (50, 75, 90, 95, 99)
STALL_SHARE = 0.01  # (practice) below this share of the median an interval counts as a stall


def spans_us(log: Log) -> Whole:
    """Length of every interval: as stated, else up to the next one, the last as long as the median. [us]"""
    if log.span_us is not None:
        return log.span_us
    if len(log) == 1:
        return np.array([1_000_000], dtype=np.int64)
    steps = np.diff(log.t_us)
    return np.append(steps, np.int64(np.median(steps)))


def throughput_digest(log: Log) -> dict[str, float]:
    """Figures of a throughput log. Rates in Mbit/s, times in s."""
    assert log.rate_bit_s is not None
    spans = spans_us(log)
    weight = int(spans.sum())
    rates = log.rate_bit_s / 1e6
    mean = float(np.dot(rates, spans) / weight) if weight else float(rates.mean())
    ordered = np.sort(rates)
    median = _ranked(ordered, 50)
    p05 = _ranked(ordered, 5)
    figures = {
        "samples": float(len(log)),
        "duration_s": weight / 1e6,
        "mean_mbit_s": mean,
        "min_mbit_s": float(ordered[0]),
        "max_mbit_s": float(ordered[-1]),
        "median_mbit_s": median,
        "p05_mbit_s": p05,
        "longest_stall_s": _longest(rates <= STALL_SHARE * median, spans) / 1e6,
    }
    if len(log) > 1:
        figures["sd_mbit_s"] = float(rates.std(ddof=1))
    if median > 0:
        figures["evenness"] = p05 / median
    return figures


def request_digest(log: Log, *, planned: int | None, target_ms: float | None) -> dict[str, float]:
    """Figures of a request log. Times in ms; on_time counts answers within the role's target."""
    assert log.latency_us is not None
    assert log.outcome is not None
    finished = np.sort(log.latency_us[log.outcome == FINISHED]) / 1e3
    figures = {
        "rows": float(len(log)),
        "made": float(np.count_nonzero(log.outcome != NOT_MADE)),
        "finished": float(len(finished)),
        "failed": float(np.count_nonzero(log.outcome == FAILED)),
        "not_made": float(np.count_nonzero(log.outcome == NOT_MADE)),
        "first_s": float(log.t_us[0] / 1e6),
        "last_s": float(log.t_us[-1] / 1e6),
    }
    if log.started is not None:
        figures["started_epoch_s"] = log.started.timestamp()
    if len(finished):
        figures |= {
            "mean_ms": float(finished.mean()),
            "min_ms": float(finished[0]),
            "max_ms": float(finished[-1]),
        }
    if target_ms is not None:
        figures["on_time"] = float(np.count_nonzero(finished <= target_ms))
    if log.amount_b is not None:
        figures["bytes"] = float(log.amount_b[log.amount_b > 0].sum())
    planned = max(planned or 0, len(log))
    figures["planned"] = float(planned)
    for percent in PERCENTS:
        rank = -(-percent * planned // 100)
        if rank <= len(finished):
            figures[f"p{percent}_ms"] = float(finished[rank - 1])
    return figures


def _ranked(ordered: np.ndarray[tuple[int], np.dtype[np.float64]], percent: int) -> float:
    return float(ordered[-(-percent * len(ordered) // 100) - 1])


def _longest(stalled: np.ndarray[tuple[int], np.dtype[np.bool_]], spans: Whole) -> float:
    """Longest unbroken time of stalled intervals. [us]"""
    if not stalled.any():
        return 0.0
    total = np.cumsum(np.where(stalled, spans, 0))
    reset = np.maximum.accumulate(np.where(stalled, 0, total))
    return float((total - reset).max())

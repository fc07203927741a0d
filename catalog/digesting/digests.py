"""All figures of a log together, as the catalogue keeps them. Names end in their unit, or are counts.

A figure without a value (a percentile among the failures, a period not found) is left out.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from catalog.digesting.coverage import coverage
from catalog.digesting.drift import Drift
from catalog.digesting.in_a_row import correlation_time, lag_one, mean_ranks
from catalog.digesting.latency import APDEX_TOLERATED, PERCENTS, mean_page_mos, percentiles
from catalog.digesting.logs import FAILED, FINISHED, NOT_MADE, Floats, Log
from catalog.digesting.longrun import evenness, longest_stall_s, summarise, time_quantile
from catalog.digesting.period import Period
from catalog.digesting.playout import WAITED_WITHIN_S, replay, stalling_quality
from catalog.digesting.throughput import interval_mean_mbit_s


def throughput_digest(log: Log) -> dict[str, float]:
    """Figures of a throughput log, weighted by time. Rates in Mbit/s, times in s."""
    start_s, seconds, rates = _intervals(log)
    mean = interval_mean_mbit_s(start_s, seconds, rates)
    assert mean is not None
    logged = coverage(start_s, seconds)
    return _figures(
        log,
        evenness=evenness(rates, seconds),
        duration_s=logged.duration,
        logged_s=logged.covered,
        longest_gap_s=logged.longest_gap,
        mean_mbit_s=mean,
        median_mbit_s=time_quantile(rates, seconds, 50),
        p05_mbit_s=time_quantile(rates, seconds, 5),
        longest_stall_s=longest_stall_s(start_s, seconds, rates),
    )


def longrun_digest(log: Log, *, key: Iterable[str]) -> dict[str, float]:
    """Figures of a long run: those of its log, drift and period.

    key  what tells the run apart from every other; the surrogates of the period follow from it.
    """
    seed = int.from_bytes(hashlib.sha256("\x1f".join(key).encode()).digest(), "big")
    summary = summarise(*_intervals(log), rng=np.random.default_rng(seed))
    figures = _figures(
        log,
        evenness=summary.evenness,
        duration_s=summary.duration_s,
        logged_s=summary.logged_s,
        longest_gap_s=summary.longest_gap_s,
        mean_mbit_s=summary.mean,
        median_mbit_s=summary.median,
        p05_mbit_s=summary.fifth_percentile,
        longest_stall_s=summary.longest_stall_s,
        step_s=summary.step_s,
    )
    if summary.drift is not None:
        figures |= _named(summary.drift, DRIFT)
    if summary.period is not None:
        figures |= _named(summary.period, PERIOD)
    return figures


def _figures(
    log: Log, *, evenness: float | None, duration_s: float, longest_gap_s: float, **known: float
) -> dict[str, float]:
    """The known figures, and those that the rates give without their times; figures without a value are left out."""
    assert log.rate_bit_s is not None
    rates = log.rate_bit_s / 1e6
    before_s, after_s = log.before_us / 1e6, log.after_us / 1e6
    figures = known | {
        "duration_s": before_s + duration_s + after_s,
        "longest_gap_s": max(before_s, longest_gap_s, after_s),
        "samples": float(len(rates)),
        "min_mbit_s": float(rates.min()),
        "max_mbit_s": float(rates.max()),
    }
    if len(rates) > 1:
        figures["sd_mbit_s"] = float(rates.std(ddof=1))
    if evenness is not None:
        figures["evenness"] = evenness
    return figures | _rows(log)


def _rows(log: Log) -> dict[str, float]:
    """First and last row of the file that the figures are made of."""
    return {} if log.rows is None else {"first_row": float(log.rows[0]), "last_row": float(log.rows[1])}


DRIFT = {
    "per_hour": "drift_mbit_s_per_h",
    "low": "drift_low_mbit_s_per_h",
    "high": "drift_high_mbit_s_per_h",
    "p": "drift_p",
    "blocks": "drift_blocks",
    "block_s": "drift_block_s",
}
PERIOD = {
    "period_s": "period_s",
    "cycles": "period_cycles",
    "step_s": "step_s",
    "exceeded": "period_exceeded",
    "share": "period_share",
}


def _named(result: Drift | Period, names: Mapping[str, str]) -> dict[str, float]:
    assert {field.name for field in fields(result)} == names.keys()
    return {figure: float(getattr(result, name)) for name, figure in names.items()}


def request_digest(log: Log, *, planned: int, role: Mapping[str, Any]) -> dict[str, float]:
    """Figures of a request log. Times in ms, of a stream in s.

    planned  requests the plan asked for; never fewer than the log holds
    role     its definition: kind, target_ms, good_ms, recipe

    waits_lag_one is the correlation of each request with the next, of its rank among the waiting times, and
    waits_correlation_requests how many in a row say as much as one that comes by itself; what rests on the marks is told
    at mark_figures. pNN_ms, pNN_low_ms and pNN_high_ms rank over planned requests, until_pNN_ms over those made before a
    run broke off.
    """
    assert log.latency_us is not None
    assert log.outcome is not None
    finished = np.sort(log.latency_us[log.outcome == FINISHED]) / 1e3
    made = int(np.count_nonzero(log.outcome != NOT_MADE))
    planned = max(planned, len(log))
    figures = {
        "rows": float(len(log)),
        "made": float(made),
        "finished": float(len(finished)),
        "failed": float(np.count_nonzero(log.outcome == FAILED)),
        "not_made": float(np.count_nonzero(log.outcome == NOT_MADE)),
        "planned": float(planned),
        "first_s": float(log.t_us[0] / 1e6),
        "last_s": float(log.t_us[-1] / 1e6),
        **_rows(log),
    }
    if log.started is not None:
        figures["started_epoch_s"] = log.started.timestamp()
    if len(finished):
        figures |= {"mean_ms": float(finished.mean()), "min_ms": float(finished[0]), "max_ms": float(finished[-1])}
    if log.amount_b is not None:
        figures["bytes"] = float(log.amount_b[log.amount_b > 0].sum(dtype=np.float64))
    figures |= _in_a_row(log, planned)
    figures |= mark_figures(log, planned=planned, role=role)
    figures |= _percentile_figures(finished, planned, "p")
    if 0 < made < planned:
        ranked = _percentile_figures(finished, made, "until_p")
        figures |= {figure: ms for figure, ms in ranked.items() if not figure.endswith(("_low_ms", "_high_ms"))}
    if role.get("kind") == "pages":
        figures["page_mos"] = mean_page_mos(finished, planned=planned)
    if role.get("kind") == "stream":
        figures |= _playout_figures(log, planned, json.loads(role.get("recipe") or "{}"))
    return figures


MARK_FIGURES = ("on_time", "tolerated", "good_on_time", "late_lag_one", "late_correlation_requests")
"""Figures of a request log that rest on the marks of its role, and change with them."""


def mark_figures(log: Log, *, planned: int, role: Mapping[str, Any]) -> dict[str, float]:
    """MARK_FIGURES of a request log, as far as its role has marks. [1]

    planned  as for request_digest
    role     target_ms and good_ms; None: not asked

    on_time, tolerated and good_on_time count answers within the target, within four times it and within what is good.
    late_lag_one is the correlation of each request with the next, of whether it is late, and late_correlation_requests how
    many in a row say as much of that as one that comes by itself.
    """
    assert log.latency_us is not None
    planned = max(planned, len(log))
    target_ms, good_ms = role.get("target_ms"), role.get("good_ms")
    waits_us = np.where(log.outcome == FINISHED, log.latency_us, np.inf)

    def within(limit_ms: float) -> float:
        return float(np.count_nonzero(waits_us / 1e3 <= limit_ms))

    figures: dict[str, float] = {}
    if target_ms is not None:
        late = (waits_us > target_ms * 1e3).astype(float)
        never_made = planned - len(log)
        figures |= {
            "on_time": within(target_ms),
            "tolerated": within(APDEX_TOLERATED * target_ms),
            "late_lag_one": lag_one(late, then=1.0, times=never_made),
            "late_correlation_requests": correlation_time(late, then=1.0, times=never_made),
        }
    if good_ms is not None:
        figures["good_on_time"] = within(good_ms)
    return figures


def _in_a_row(log: Log, planned: int) -> dict[str, float]:
    """How alike the waiting times of requests are to those that follow, by their ranks. [1]

    Failed requests and those never made wait longest.
    """
    assert log.latency_us is not None
    never_made = planned - len(log)
    waits_us = np.where(log.outcome == FINISHED, log.latency_us, np.inf)
    ranks, without_answer = mean_ranks(waits_us), np.isinf(waits_us)
    # Those without an answer share the last ranks with those that were never made.
    last_rank = planned - (np.count_nonzero(without_answer) + never_made - 1) / 2
    ranks[without_answer] = last_rank
    return {
        "waits_lag_one": lag_one(ranks, then=last_rank, times=never_made),
        "waits_correlation_requests": correlation_time(ranks, then=last_rank, times=never_made),
    }


def _percentile_figures(finished_ms: Floats, planned: int, prefix: str) -> dict[str, float]:
    figures: dict[str, float] = {}
    for one in percentiles(finished_ms, PERCENTS, planned=planned):
        for figure, ms in (("", one.ms), ("_low", one.low_ms), ("_high", one.high_ms)):
            if ms is not None and ms != math.inf:
                figures[f"{prefix}{one.percent}{figure}_ms"] = ms
    return figures


def _playout_figures(log: Log, planned: int, recipe: Mapping[str, Any]) -> dict[str, float]:
    """The stream as a player with the declared buffer would have shown it."""
    assert log.latency_us is not None
    assert log.outcome is not None
    if not recipe.get("segment_s") or recipe.get("start_buffer_s") is None:
        return {}  # without a declared buffer there is no player to replay
    # A failed request whose log does not say how long it took had ended when the next was made.
    until_next_us = np.diff(log.t_us, append=log.t_us[-1])
    took_us = np.where(log.latency_us < 0, np.maximum(until_next_us, 0), log.latency_us)
    shown = replay(
        ((log.t_us - log.t_us[0]) / 1e6).tolist(),
        (took_us / 1e6).tolist(),
        (log.outcome == FINISHED).tolist(),
        planned=planned,
        segment_s=float(recipe["segment_s"]),
        start_buffer_s=float(recipe["start_buffer_s"]),
        slack_s=max(WAITED_WITHIN_S, _resolution_s(log)),
    )
    figures = {
        "shown_s": shown.shown_s,
        "stalls": float(len(shown.stalls)),
        "stalled_s": shown.stalled_s,
        "late_segments": float(shown.late),
        "lost_segments": float(shown.lost),
    }
    if shown.start_delay_s is not None:
        figures["start_delay_s"] = shown.start_delay_s
    if (quality := stalling_quality(shown)) is not None:
        figures["stalling_quality"] = quality
    return figures


def _resolution_s(log: Log) -> float:
    """The power of ten of a second, 1 at most, that all times of a request log are multiples of. [s]"""
    assert log.latency_us is not None
    common_us = int(np.gcd.reduce(np.concatenate([log.t_us - log.t_us[0], log.latency_us[log.latency_us > 0]])))
    return next((us / 1e6 for us in (10**6, 10**5, 10**4, 10**3) if common_us % us == 0), 0.0)


def _intervals(log: Log) -> tuple[Floats, Floats, Floats]:
    """Starts [s], lengths [s] and rates [Mbit/s] of a throughput log."""
    assert log.rate_bit_s is not None
    return log.t_us / 1e6, log.spans_us / 1e6, log.rate_bit_s / 1e6

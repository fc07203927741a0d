"""Guards of logs one by one: what each finds, and what beside it is in order."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from catalog.checking import log_guards
from catalog.checking.log_guards import duration
from catalog.digesting.logs import FINISHED, Log
from catalog.reading.plainlogs import read_plain_log

WHEN = dt.datetime(2025, 5, 12, 10, tzinfo=dt.UTC)


def rates(values, *, step_s=1.0, lengths_s=None, started=None, amounts=False, **more):
    return Log(
        "throughput",
        t_us=np.rint(np.arange(len(values)) * step_s * 1e6).astype(np.int64),
        started=started,
        rate_bit_s=np.rint(np.array(values) * 1e6).astype(np.int64),
        span_us=None if lengths_s is None else np.full(len(values), round(lengths_s * 1e6), dtype=np.int64),
        stated_lengths=lengths_s is not None,
        from_amounts=amounts,
        **more,
    )


def requests(starts_s, latencies_ms, *, started=None):
    return Log(
        "requests",
        t_us=np.rint(np.array(starts_s) * 1e6).astype(np.int64),
        started=started,
        latency_us=np.rint(np.array(latencies_ms) * 1e3).astype(np.int64),
        outcome=np.full(len(starts_s), FINISHED, dtype=np.int8),
    )


@pytest.mark.parametrize(
    ("off_s", "planned_s", "held"),
    [(0, None, False), (60, None, False), (61, None, True), (-60, None, False), (-61, None, True), (90, 120, False)],
)
def test_a_minute_is_what_a_clock_may_be_off(off_s, planned_s, held):
    log = rates([500] * 30, started=WHEN + dt.timedelta(seconds=off_s))
    assert (log_guards.of_another_row(log, "a.csv", WHEN, planned_s=planned_s) is not None) == held


def test_whole_hours_look_like_a_time_zone():
    found = log_guards.of_another_row(
        rates([500] * 30, started=WHEN - dt.timedelta(hours=2)), "a.csv", WHEN, planned_s=None
    )
    assert "It begins 2 h off: is a time zone missing? Another row's log, or another clock?" in found.expected
    found = log_guards.of_another_row(
        rates([500] * 30, started=WHEN - dt.timedelta(days=2)), "a.csv", WHEN, planned_s=None
    )
    assert "time zone" not in found.expected


def test_a_log_without_instants_may_be_of_any_row():
    assert log_guards.of_another_row(rates([500] * 30), "a.csv", WHEN, planned_s=None) is None


def test_requests_end_with_their_run():
    log = requests(range(0, 700, 10), [20] * 70, started=WHEN)
    assert log_guards.of_another_row(log, "a.csv", WHEN, planned_s=600) is not None
    assert log_guards.of_another_row(log, "a.csv", WHEN, planned_s=640) is None


@pytest.mark.parametrize(
    ("log", "stated_s", "guess"),
    [
        (rates([500] * 30, step_s=1000), None, "milliseconds"),
        (rates([500] * 30, step_s=1e6), None, "microseconds"),
        (rates([500] * 30, step_s=100), 3.0, "milliseconds"),
        (rates([500] * 30, step_s=100, lengths_s=0.1), None, "milliseconds"),
        (rates([500] * 61, step_s=1 / 60), 60.0, "minutes"),
        (requests(range(0, 60_000, 1000), [20] * 60), 60.0, "milliseconds"),
        (rates([500] * 30, step_s=10), 10.0, None),
    ],
)
def test_times_in_another_unit_are_asked_with_the_unit_that_fits(log, stated_s, guess):
    question, found = log_guards.not_seconds(log, stated_s=stated_s)
    assert question.code == "steps-not-seconds"
    assert found == guess


@pytest.mark.parametrize(
    ("log", "stated_s"),
    [
        (rates([500] * 30), None),
        (rates([500] * 30), 30.0),
        (rates([500] * 30), 25.0),
        (rates([500] * 30, step_s=300), None),
        (rates([500] * 30, step_s=1000, started=WHEN), None),
        (requests([0, 300], [20, 20]), 600.0),
        (requests(range(0, 600, 10), [20] * 60), 600.0),
        (rates([500]), 60.0),
    ],
)
def test_times_in_seconds_are_not_asked(log, stated_s):
    assert log_guards.not_seconds(log, stated_s=stated_s) is None


def test_a_closing_sum_is_known_by_rates_or_by_amount_and_length():
    assert log_guards.closing_sum(rates([500] * 30 + [15000])) is not None
    whole = rates([500] * 30 + [500], lengths_s=1)
    whole.span_us[-1] = 30_000_000
    assert log_guards.closing_sum(whole) is not None
    assert log_guards.closing_sum(rates([500] * 30)) is None
    assert log_guards.closing_sum(rates([0, 0, 0, 500, 500])) is None
    assert log_guards.closing_sum(rates([100, 100, 200])) is None  # two may add up by chance


def test_a_counter_grows_and_an_amount_does_not_always():
    assert log_guards.only_growing(rates(np.arange(1, 11) * 100, amounts=True)) is not None
    assert log_guards.only_growing(rates(np.arange(1, 11) * 100)) is None  # stated as rates
    assert log_guards.only_growing(rates([500, 501] * 10, amounts=True)) is None
    assert log_guards.only_growing(rates([500] * 19 + [501], amounts=True)) is None
    assert log_guards.only_growing(rates(range(100, 105), amounts=True)) is None  # too few to tell


def test_a_run_is_asked_about_from_a_twentieth_on():
    log = rates([500] * 95)
    assert log_guards.not_covered(log, stated_s=100.0) is None
    found = log_guards.not_covered(log, stated_s=101.0)
    assert "The log covers 95 s of a run of 101 s; its longest gap is 6 s, from 95 s on." in found.expected
    assert log_guards.not_covered(rates([500] * 57, warm_up_us=3_000_000), stated_s=60.0) is None


def test_rows_that_measured_nothing_are_time_that_is_not_covered():
    found = log_guards.not_covered(rates([500] * 10, before_us=5_000_000, after_us=20_000_000), stated_s=None)
    assert "covers 10 s of a run of 35 s; its longest gap is 20 s, from 10 s on" in found.expected


@pytest.mark.parametrize(
    ("values", "since"),
    [
        ([500] * 90 + [0] * 10, 90.0),
        ([500] * 91 + [0] * 9, None),
        ([0] * 30, 0.0),
        ([500, 0] * 10, None),
        ([500] * 9, None),
    ],
)
def test_a_run_stopped_if_nothing_came_for_its_last_tenth(values, since):
    assert log_guards.stopped_at_s(rates(values)) == since


def test_a_request_that_outlasts_its_run_or_latencies_that_are_ends():
    assert log_guards.outlasting(requests([0, 1], [20, 61_000]), planned_s=60) is not None
    assert log_guards.outlasting(requests([0, 1], [20, 59_000]), planned_s=60) is None
    ends = requests(range(20), [1000 * t + 30 for t in range(20)])
    assert "Were the times at which they ended read as latencies?" in log_guards.outlasting(ends, planned_s=60).expected
    at_once = requests([0] * 20, [100 * (t + 1) for t in range(20)])
    assert log_guards.outlasting(at_once, planned_s=60) is None
    slower = requests(range(20), [20 + t for t in range(20)])
    assert log_guards.outlasting(slower, planned_s=60) is None


def test_times_are_said_as_people_say_them():
    assert [duration(s) for s in (0.05, 59.5, 630, 7200, 86_400)] == ["0.05 s", "59.5 s", "10.5 min", "120 min", "24 h"]


def clean_log(number):
    """A log as a careful tool writes it: number 0 to 49 choose its form, its pace and how the rate moves."""
    rng = np.random.default_rng([26, number])
    n, step_s = int(rng.integers(20, 2000)), float(rng.choice([0.1, 0.5, 1, 2, 5, 10, 30]))
    rate = float(rng.choice([3, 60, 400, 900, 2400]))
    steady = np.abs(rng.normal(rate, rate / 5, n))
    moves = (
        steady,
        np.abs(rate * (1 + np.cumsum(rng.normal(0, 0.02, n)))),  # wanders
        steady * (rng.random(n) > 0.1),  # stalls for a row now and then
        rate * np.minimum(1, np.arange(n) / (0.8 * n)),  # a slow start
    )[number % 4]
    t = np.cumsum(rng.uniform(0.7, 1.3, n) * step_s) if number % 5 == 4 else np.arange(n) * step_s
    lengths = np.append(np.diff(t), step_s * rng.uniform(0.05, 1))  # the last row is short
    if number % 3 == 0:
        lines = ["t_s,mbit_s", *(f"{a:.3f},{b:.3f}" for a, b in zip(t, moves, strict=True))]
    elif number % 3 == 1:
        rows = zip(t, lengths, moves, strict=True)
        lines = ["t_s,seconds,bytes", *(f"{a:.3f},{s:.3f},{b * s * 125_000:.0f}" for a, s, b in rows)]
    else:
        began = dt.datetime(2025, 5, 12, 8, tzinfo=dt.UTC)
        at = [began + dt.timedelta(seconds=float(a)) for a in t]
        lines = ["start,mbit_s", *(f"{a.isoformat()},{b:.2f}" for a, b in zip(at, moves, strict=True))]
    log = read_plain_log("log.csv", "\n".join(lines).encode(), instant=dt.datetime.fromisoformat)
    assert isinstance(log, Log)
    return log, float(t[-1] + step_s)


@pytest.mark.parametrize("number", range(50))
def test_a_clean_log_is_asked_nothing(number):
    log, lasted_s = clean_log(number)
    questions = [log_guards.closing_sum(log), log_guards.only_growing(log), log_guards.stopped(log)]
    for stated_s in (None, lasted_s):
        questions += [
            log_guards.not_seconds(log, stated_s=stated_s),
            log_guards.not_covered(log, stated_s=stated_s),
        ]
    assert questions == [None] * 7

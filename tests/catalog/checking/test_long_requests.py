"""Long runs of requests from batch to catalogue: what their rows may say, what is asked of their logs, what an answer does."""

from __future__ import annotations

import numpy as np
import pytest

from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch
from catalog.errors import BatchRefused
from catalog.exporting import dump_to, export_batches, load
from tests.catalog.checking.test_mistakes import clean
from tests.catalog.checking.test_settled_logs import answer, asked
from tests.catalog.conftest import NOW

ROWS = "when,kind,mark_ms,direction,log\n2025-05-12 18:00,requests,100,{direction},logs/pings.csv\n"


def pings(waits, *, step_s=1.0, starts=None, heading="t_s,ms,outcome"):
    starts = [n * step_s for n in range(len(waits))] if starts is None else starts
    rows = [
        f"{t:.3f},{'' if ms is None else f'{ms:g}'},{'failed' if ms is None else 'finished'}"
        for t, ms in zip(starts, waits, strict=True)
    ]
    return "\n".join([heading, *rows]) + "\n"


def steady(n, *, seed=3):
    return np.random.default_rng(seed).lognormal(2.5, 0.5, n).round(2).tolist()


DOWN = ROWS.format(direction="down")


def parts(log, *, rows=DOWN, **more):
    return clean(longruns_csv=rows, logs__pings_csv=log, **more)


@pytest.fixture
def problems(write_batch):
    return lambda log, **more: check_batch(write_batch("batch", **parts(log, **more)), catalog=None).problems


@pytest.fixture
def entered(write_batch, tmp_path):
    def enter(log, **more):
        enter_batch(write_batch("batch", **parts(log, **more)), into=tmp_path / "catalog.db", now=NOW)
        return tmp_path / "catalog.db"

    return enter


def digest(catalog):
    return dict(asked(catalog, "SELECT figure, value FROM digest WHERE owner = 'longrun'"))


# --- What a row says ----------------------------------------------------------------------------------------


def test_a_log_of_requests_is_a_long_run_whose_direction_may_be_left_out(entered):
    catalog = entered(
        pings(steady(3600)),
        more=clean()["more"].replace('direction = "down"\noutcome', "outcome"),
        rows=ROWS.format(direction=""),
    )
    assert asked(catalog, "SELECT kind, direction, mark_ms FROM longrun") == [("requests", None, 100.0)]
    figures = digest(catalog)
    assert (figures["rows"], figures["longest_gap_s"], figures["duration_s"]) == (3600, 0, 3600)
    assert figures["p95_ms"] == np.quantile(steady(3600), 0.95, method="inverted_cdf")


@pytest.mark.parametrize(
    ("rows", "code", "column"),
    [
        ("when,kind,log\n2025-05-12 18:00,throughput,logs/pings.csv\n", "log-kind", "log"),
        ("when,log\n2025-05-12 18:00,logs/pings.csv\n", "log-kind", "log"),
        ("when,kind,log\n2025-05-12 18:00,requests,logs/near.csv\n", "log-kind", "log"),
        ("when,kind,mark_ms,log\n2025-05-12 18:00,throughput,100,logs/near.csv\n", "mark-of-throughput", "mark_ms"),
        ("when,kind,mark_ms,log\n2025-05-12 18:00,requests,0,logs/pings.csv\n", "too-small", "mark_ms"),
        ("when,kind,log\n2025-05-12 18:00,latency,logs/pings.csv\n", "unknown-word", "kind"),
    ],
)
def test_what_does_not_fit_the_kind_is_held(problems, rows, code, column):
    found = [problem for problem in problems(pings(steady(600)), rows=rows) if problem.table == "longruns.csv"]
    assert (code, column) in [(problem.code, problem.column) for problem in found]


def test_a_throughput_without_a_direction_is_held(problems):
    toml = clean()["more"].replace('direction = "down"\noutcome', "outcome")
    rows = "when,kind,log\n2025-05-12 18:00,,logs/pings.csv\n"
    found = problems("t_s,mbit_s\n" + "".join(f"{t},{500 + t % 3}\n" for t in range(60)), rows=rows, more=toml)
    assert [(p.code, p.column) for p in found if p.table == "longruns.csv"] == [("missing", "direction")]


def test_the_mark_may_be_typed_with_a_unit(entered):
    rows = "when,kind,mark,log\n2025-05-12 18:00,requests,0.1 s,logs/pings.csv\n"
    assert asked(entered(pings(steady(60)), rows=rows), "SELECT mark_ms FROM longrun") == [(100.0,)]


def test_a_row_that_comes_again_is_known_and_another_mark_is_a_correction(write_batch, entered):
    catalog = entered(pings(steady(60)))
    again = check_batch(write_batch("again", **parts(pings(steady(60)))), catalog=open_catalog(catalog, readonly=True))
    assert again.rows_new == 0
    rows = DOWN.replace(",100,", ",50,")
    other = check_batch(
        write_batch("other", **parts(pings(steady(60)), rows=rows)), catalog=open_catalog(catalog, readonly=True)
    )
    assert [problem.column for problem in other.problems] == ["mark_ms"]


def test_both_kinds_may_be_logged_at_the_same_instant(entered):
    rows = "when,kind,log\n2025-05-12 18:00,requests,logs/pings.csv\n2025-05-12 18:00,throughput,logs/rates.csv\n"
    rates = "t_s,mbit_s\n" + "".join(f"{t},{500 + t % 7}\n" for t in range(60))
    catalog = entered(pings(steady(60)), rows=rows, logs__rates_csv=rates)
    assert asked(catalog, "SELECT kind FROM longrun ORDER BY kind") == [("requests",), ("throughput",)]


# --- What is asked ------------------------------------------------------------------------------------------

GAP = [*range(600), *range(1200, 1800)]
NOT_COVERED = ("log-not-covered", "logs/pings.csv")


def test_a_gap_is_asked_about_and_left_out_or_filled_with_what_was_never_made(problems, entered):
    log = pings(steady(1200), starts=GAP)
    (question,) = problems(log)
    assert question.code == "log-not-covered"
    assert "The log covers 20 min of a run of 30 min; its longest gap is 10 min, from 10 min on." in question.expected
    figures = digest(entered(log, answers_toml=answer("log-not-covered", "not logged", table="longruns")))
    assert [figures[k] for k in ("rows", "logged_s", "longest_gap_s", "longest_outage_s")] == [1200, 1200, 600, 0]


def test_silence_that_was_an_outage_is_one(entered):
    log = pings(steady(1200), starts=GAP)
    figures = digest(entered(log, answers_toml=answer("log-not-covered", "no data came", table="longruns")))
    # By hand: 600 requests that should have been made in 600 s.
    assert [figures[k] for k in ("rows", "made", "not_made")] == [1800, 1200, 600]
    assert [figures[k] for k in ("logged_s", "longest_gap_s", "longest_outage_s", "outage_at_s")] == [1800, 0, 600, 600]
    assert figures["late"] == 600 + sum(ms > 100 for ms in steady(1200))


def test_a_run_that_stopped_being_answered_is_asked(problems, entered):
    log = pings(steady(540) + [None] * 60)
    (question,) = problems(log)
    assert question.code == "rate-stopped"
    sentence = "The run stopped at 540 s: from there to the end of the log, at 600 s, no request was answered."
    assert sentence in question.expected
    catalog = entered(log, answers_toml=answer("rate-stopped", "did not finish", table="longruns"))
    assert asked(catalog, "SELECT outcome FROM longrun") == [("did not finish",)]


def test_nothing_but_failures_is_asked(problems):
    (question,) = problems(pings([None] * 60))
    assert "No request of the log was answered." in question.expected


@pytest.mark.parametrize(("step", "unit"), [(1000, "milliseconds"), (100_000, "milliseconds"), (1e6, "microseconds")])
def test_times_in_another_unit_are_asked(problems, entered, step, unit):
    log = pings(steady(400), starts=[n * step for n in range(400)])
    (question,) = problems(log)
    assert (question.code, f"Does it count {unit}?" in question.expected) == ("steps-not-seconds", True)
    figures = digest(entered(log, answers_toml=answer("steps-not-seconds", unit, table="longruns")))
    assert figures["duration_s"] == 400 * step / (1000 if unit == "milliseconds" else 1e6)


def test_end_times_read_as_latencies_are_asked(problems):
    ends = [1_747_000_000_000.0 + 1000 * n for n in range(60)]
    (question,) = problems(pings(ends))
    assert question.code == "request-outlasts-log"


def test_a_log_of_another_day_is_asked(problems):
    rows = [f"2025-05-10T10:00:{n:02d}Z,{ms},finished" for n, ms in enumerate(steady(60))]
    (question,) = problems("\n".join(["start,ms,outcome", *rows]) + "\n")
    assert question.code == "log-of-another-row"


def test_a_log_of_a_mix_is_not_a_long_run_too(problems):
    rows = DOWN.replace("logs/pings.csv", "logs/pages.csv")
    found = problems(pings(steady(60)), rows=rows)
    assert [problem.code for problem in found] == ["log-used-twice"]


def test_a_night_with_another_offset_is_one_night(entered):
    # In the night of 26 October 2025 clocks went back at 3:00 to 2:00 (directive 2000/84/EC): 2:59:59+02:00 is followed by
    # 2:00:00+01:00. A row a second for two hours, of which each hour has 3600.
    rows = [
        f"2025-10-26T02:{n // 60:02d}:{n % 60:02d}+0{offset}:00,{10 + n % 5}" for offset in (2, 1) for n in range(3600)
    ]
    plan = 'kind = "requests"\nformat = "csv"\n[column.start]\nfrom = "at"\n[column.ms]\nfrom = "wait"\n'
    table = "when,kind,log\n2025-10-26T02:00:00+02:00,requests,night:logs/pings.csv\n"
    catalog = entered("\n".join(["at,wait", *rows]) + "\n", rows=table, maps__night_toml=plan)
    figures = digest(catalog)
    assert [figures[k] for k in ("rows", "duration_s", "longest_gap_s")] == [7200, 7200, 0]
    assert (figures["hour_0_requests"], figures["hour_1_requests"]) == (3600, 3600)


def test_rows_that_all_stand_twice_are_asked_and_counted_once(problems, entered):
    heading, *rows = pings(steady(300)).splitlines()
    log = "\n".join([heading, *(row for row in rows for _ in range(2))]) + "\n"
    (question,) = problems(log)
    assert question.code == "doubled-rows"
    twice = digest(entered(log, answers_toml=answer("doubled-rows", "copies", table="longruns")))
    assert (twice["rows"], twice["duration_s"]) == (300, 300)
    # Two requests at a time that happen to take whole milliseconds are no copies.
    assert problems(pings([12.0] * 400, starts=[n // 2 for n in range(400)])) == ()


def test_a_clock_that_was_set_back_is_refused(problems):
    log = pings(steady(100), starts=[*range(50), *range(20, 70)])
    assert [problem.code for problem in problems(log)] == ["clock-jump"]


def clean_log(number):
    """A log of requests as a careful tool writes it: number 0 to 49 choose its pace and its answers."""
    rng = np.random.default_rng([27, number])
    n = int(rng.integers(30, 2000))
    starts = (
        np.arange(n) * float(rng.choice([0.02, 0.1, 1, 5, 60])),
        np.cumsum(rng.uniform(5, 20, n)),  # pauses of a reader
        np.cumsum(rng.exponential(2, max(n, 300))),  # at random
        np.sort(np.repeat(np.arange(n) * 5.0, 8) + np.tile(np.arange(8) * 0.02, n)),  # bursts
        np.cumsum(np.maximum(1, rng.lognormal(0, 0.5, n))),  # the next when this one came
    )[number % 5]
    waits = rng.lognormal(2.5, 0.6, len(starts)).round(3)
    lost = rng.random(len(starts)) < 0.01 * (number % 3)
    lost[-1] = False
    return pings([None if gone else ms for ms, gone in zip(waits.tolist(), lost, strict=True)], starts=starts)


@pytest.mark.parametrize("number", range(50))
def test_a_clean_log_is_asked_nothing(problems, number):
    assert problems(clean_log(number)) == ()


# --- Afterwards ---------------------------------------------------------------------------------------------


def test_a_corrected_mark_counts_again(entered, tmp_path):
    catalog = entered(pings(steady(600)))
    before = digest(catalog)
    line = "longruns,kind=requests,mark_ms,100,20,the mark was 20,a reader,2025-06-01"
    (tmp_path / "corrections.csv").write_text(f"table,key,column,was,now,reason,noticed_by,date\n{line}\n")
    correct_file(tmp_path / "corrections.csv", catalog=open_catalog(catalog, readonly=False), now=NOW)
    after = digest(catalog)
    assert after["late"] == after["hour_0_late"] == sum(ms > 20 for ms in steady(600))
    assert {name for name in before if before[name] != after[name]} == {"late", "hour_0_late"}


def test_the_kind_is_not_corrected(entered, tmp_path):
    catalog = entered(pings(steady(60)))
    line = "longruns,kind=requests,kind,requests,throughput,a slip,a reader,2025-06-01"
    (tmp_path / "corrections.csv").write_text(f"table,key,column,was,now,reason,noticed_by,date\n{line}\n")
    with pytest.raises(BatchRefused, match="It is what the log holds, and a log comes with a batch"):
        correct_file(tmp_path / "corrections.csv", catalog=open_catalog(catalog, readonly=False), now=NOW)


def test_an_export_enters_again(entered, tmp_path):
    catalog = entered(pings(steady(60)))
    export_batches(open_catalog(catalog, readonly=True), tmp_path / "out")
    enter_batch(next((tmp_path / "out").iterdir()), into=tmp_path / "again.db", now=NOW)
    sql = "SELECT kind, direction, mark_ms FROM longrun"
    assert asked(catalog, sql) == asked(tmp_path / "again.db", sql)
    assert digest(catalog) == digest(tmp_path / "again.db")


def test_a_dump_loads_again(entered, tmp_path):
    catalog = entered(pings(steady(60)))
    dump_to(open_catalog(catalog, readonly=True), tmp_path / "catalog.jsonl")
    with (tmp_path / "catalog.jsonl").open("rb") as file:
        load(file, tmp_path / "again.db")
    sql = "SELECT * FROM longrun"
    assert asked(catalog, sql) == asked(tmp_path / "again.db", sql)
    assert digest(catalog) == digest(tmp_path / "again.db")

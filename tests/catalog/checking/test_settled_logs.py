"""Logs from batch to catalogue: whose they are, what an answer makes of them, and how a value from one is named."""

from __future__ import annotations

import sqlite3

import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from tests.catalog.checking.test_mistakes import clean, rates, runs
from tests.catalog.conftest import NOW

LINKS = """
kind = "throughput"
format = "csv"
[column.t_s]
from = "t"
[column.rate]
from = "r"
unit = "Mbit/s"
[[where]]
column = "link"
is = "{link}"
"""
TWO_LINKS = "t,link,r\n" + "".join(
    f"{t},{link},{r + t % 5}\n" for t in range(30) for link, r in (("a", 898), ("b", 904))
)


@pytest.fixture
def problems(write_batch):
    return lambda name="batch", catalog=None, **parts: check_batch(write_batch(name, **parts), catalog=catalog).problems


@pytest.fixture
def entered(write_batch, tmp_path):
    """Enters a batch into one catalogue and returns its path."""

    def enter(name="batch", **parts):
        enter_batch(write_batch(name, **parts), into=tmp_path / "catalog.db", now=NOW)
        return tmp_path / "catalog.db"

    return enter


def asked(catalog, sql):
    with sqlite3.connect(catalog) as db:
        return db.execute(sql).fetchall()


def answer(cause, means, *, table="runs", row=2):
    return f'[[answer]]\ncause = "{cause}"\ntable = "{table}"\nrow = {row}\nmeans = "{means}"\n'


# --- Whose log it is ----------------------------------------------------------------------------------------


def test_a_copy_of_a_log_is_the_same_log(problems):
    log = clean()["logs__near_csv"].replace("900", "903")
    (problem,) = problems(**clean(runs_csv=runs({3: {"log": "logs/b.csv"}}), logs__near_csv=log, logs__b_csv=log))
    assert problem.code == "log-used-twice"
    assert "logs/b.csv holds the same rows as logs/near.csv, the log of row 2: one log is one run." in problem.expected


def test_one_file_with_conditions_of_their_own_holds_many_logs(problems):
    maps = {f"maps__{link}_toml": LINKS.format(link=link) for link in "ab"}
    own = runs({2: {"log": "a:logs/both.csv"}, 3: {"log": "b:logs/both.csv"}})
    assert problems(**clean(runs_csv=own, logs__both_csv=TWO_LINKS, **maps)) == ()
    shared = runs({2: {"log": "a:logs/both.csv"}, 3: {"log": "a:logs/both.csv"}})
    assert [p.code for p in problems(**clean(runs_csv=shared, logs__both_csv=TWO_LINKS, **maps))] == ["log-used-twice"]


ONE_COLUMN = (
    'kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "t"\n[column.rate]\nunit = "Mbit/s"\nfrom = "{}"\n'
)
OF_LINK = '[[where]]\ncolumn = "link"\nis = "{}"\n'


@pytest.mark.parametrize(
    ("first", "second", "held"),
    [
        (ONE_COLUMN.format("r"), "skip_first_s = 5\n" + ONE_COLUMN.format("r"), True),  # a warm-up is no other run
        (ONE_COLUMN.format("r"), ONE_COLUMN.format("r") + OF_LINK.format("b"), True),  # all rows, and some of them
        (ONE_COLUMN.format("r") + OF_LINK.format("a"), ONE_COLUMN.format("r") + OF_LINK.format("b"), False),
        (ONE_COLUMN.format("r"), ONE_COLUMN.format("other"), False),  # two columns of the same rows
    ],
)
def test_some_rows_of_a_file_are_not_read_for_two_runs(problems, first, second, held):
    log = "t,link,r,other\n" + "".join(f"{t},{'ab'[t % 2]},{898 + t % 5},{905 + t % 7}\n" for t in range(60))
    own = runs({2: {"log": "one:logs/all.csv"}, 3: {"log": "two:logs/all.csv"}})
    asked = problems(**clean(runs_csv=own, logs__all_csv=log, maps__one_toml=first, maps__two_toml=second))
    assert [(problem.code, problem.row) for problem in asked] == ([("log-used-twice", 3)] if held else [])
    if held:
        sentence = "two:logs/all.csv holds rows that one:logs/all.csv, the log of row 2, holds too: one log is one run."
        assert sentence in asked[0].expected


def test_a_log_is_known_from_another_batch_and_another_table(problems, entered):
    catalog = open_catalog(entered(**clean()), readonly=True)
    later = clean()["more"].split("[defaults.longruns]")[1]
    toml = (
        'format = 1\nid = "second"\ntitle = "b"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n[defaults.longruns]'
        + later
    )
    (problem,) = problems(
        "second",
        catalog,
        toml=toml,
        longruns_csv="when,spot,log\n2025-05-12 21:00,S2,logs/old.csv\n",
        logs__old_csv=clean()["logs__night_csv"],
    )
    assert problem.code == "log-used-twice"
    assert "logs/old.csv holds the same rows as the log of longruns.csv row 2 in batch first" in problem.expected


def test_rows_that_come_again_keep_their_log(problems, entered):
    path = entered(**clean())
    assert problems("again", open_catalog(path, readonly=True), **clean()) == ()
    toml = (path.parent / "again" / "batch.toml").read_text().replace('id = "first"', 'id = "second"')
    assert problems("more", open_catalog(path, readonly=True), **{**clean(more=""), "toml": toml}) == ()


def test_two_clients_to_whom_nothing_came_may_have_logs_alike(problems):
    nothing = "t_s,ms,outcome\n" + "".join(f"{10 * n},,failed\n" for n in range(60))
    assert problems(**clean(logs__pages_csv=nothing, logs__talk_csv=nothing)) == ()


# --- What an answer makes of it -----------------------------------------------------------------------------


def test_milliseconds_are_read_as_milliseconds_with_rates_of_bytes(entered):
    # By hand: 112,500 bytes in 1 ms are 900 Mbit/s; the log says 112.5 MB in each of 1000.
    log = "t_s,seconds,bytes\n" + "".join(f"{1000 * t},1000,112500000\n" for t in range(30))
    path = entered(
        **clean(
            runs_csv=runs({2: {"throughput_mbit_s": ""}}),
            logs__near_csv=log,
            answers_toml=answer("steps-not-seconds", "milliseconds"),
        )
    )
    figures = dict(asked(path, "SELECT figure, value FROM digest WHERE owner = 'run'"))
    assert (figures["mean_mbit_s"], figures["duration_s"], figures["logged_s"]) == (900, 30, 30)


def test_a_length_in_the_row_that_the_log_does_not_reach_is_asked(problems):
    table = runs(
        {2: {"throughput_mbit_s": "", "seconds": "60"}},
        header="when,spot,direction,level_dbm,repeat,throughput_mbit_s,seconds,log",
    )
    (problem,) = problems(**clean(runs_csv=table, logs__near_csv=rates((t, 900) for t in range(30))))
    assert "The log covers 30 s of a run of 60 s; its longest gap is 30 s, from 30 s on." in problem.expected


def test_a_stall_to_the_end_that_nobody_logged_is_a_run_that_stopped(problems, entered):
    silent = {
        "runs_csv": runs({2: {"throughput_mbit_s": ""}}),
        "logs__near_csv": rates([*((t, 900) for t in range(30)), (90, 0)]),
    }
    first = answer("log-not-covered", "no data came")
    assert [p.code for p in problems(**clean(**silent, answers_toml=first))] == ["rate-stopped"]
    path = entered(**clean(**silent, answers_toml=first + answer("rate-stopped", "did not finish")))
    assert asked(path, "SELECT throughput_mbit_s, outcome FROM run WHERE source_row = 2") == [(None, "did not finish")]


def test_a_typed_average_beside_a_run_that_stopped_is_refused(problems):
    log = rates((t, 900 if t < 25 else 0) for t in range(30))
    settled = answer("rate-stopped", "did not finish")
    found = problems(**clean(logs__near_csv=log, answers_toml=settled))
    assert [p.code for p in found] == ["value-and-outcome"]
    assert "would hide the collapse" in found[0].expected


def test_a_long_run_that_stopped_did_not_finish(entered):
    path = entered(
        **clean(
            logs__night_csv=rates((t, 600 if t < 40 else 0) for t in range(60)),
            answers_toml=answer("rate-stopped", "did not finish", table="longruns"),
        )
    )
    assert asked(path, "SELECT outcome FROM longrun") == [("did not finish",)]


@pytest.mark.parametrize(("column", "begin"), [("start", 1747065600), ("t_s", 0)])
def test_end_times_become_latencies(entered, column, begin):
    plan = f"""kind = "requests"
format = "csv"
[column.{column}]
from = "b"
unit = "s"
[column.ms]
from = "e"
unit = "s"
"""
    log = "b,e\n" + "".join(f"{begin + t},{begin + t + 0.025:.3f}\n" for t in range(600))
    path = entered(
        **clean(
            stations_csv="client,role,log\nwrenlet-u2,pages,logs/pages.csv\nskarn-r2,talk,ends:logs/talk.csv\n",
            logs__talk_csv=log,
            maps__ends_toml=plan,
            answers_toml=answer("request-outlasts-log", "end times", table="stations", row=3),
        )
    )
    figures = asked(
        path,
        "SELECT round(value, 3) FROM digest JOIN station ON owner_id = station_id "
        "WHERE owner = 'station' AND role_id = 'talk' AND figure IN ('p50_ms', 'max_ms')",
    )
    assert figures == [(25.0,), (25.0,)]


def test_a_clock_that_was_off_says_nothing_of_the_common_time(entered):
    log = "start,ms,outcome\n" + "".join(
        f"2025-05-12T20:{n // 60:02}:{n % 60:02}Z,{20 + n % 7},ok\n" for n in range(600)
    )
    path = entered(
        **clean(logs__talk_csv=log, answers_toml=answer("log-of-another-row", "another clock", table="stations", row=3))
    )
    figures = "SELECT count(*) FROM digest WHERE figure = 'started_epoch_s'"
    assert asked(path, figures) == [(0,)]
    assert asked(path, "SELECT DISTINCT value FROM digest WHERE figure = 'common_s'") == [(590.0,)]


def test_a_mix_of_another_day_is_asked_about_row_by_row(problems):
    stamped = "start,ms,outcome\n2025-05-13T16:00:00Z,{},ok\n2025-05-13T16:09:00Z,9,ok\n"
    logs = {"logs__pages_csv": stamped.format(200), "logs__talk_csv": stamped.format(20)}
    assert [(p.row, p.code) for p in problems(**clean(**logs))] == [
        (2, "log-of-another-row"),
        (3, "log-of-another-row"),
    ]


# --- How its value is named ---------------------------------------------------------------------------------


@pytest.mark.parametrize("part", ["logs__near_csv", "logs__night_csv"])
def test_what_the_radios_cannot_carry_is_held_from_a_log_too(problems, part):
    table = runs({2: {"throughput_mbit_s": ""}})
    (problem,) = problems(
        **clean(
            runs_csv=table,
            **{part: rates((t, 7440) for t in range(30))},
            **({"logs__near_csv": clean()["logs__near_csv"]} if part == "logs__night_csv" else {}),
        )
    )
    assert (problem.code, problem.row) == ("above-phy", 2)
    assert problem.expected.startswith("7440.0 Mbit/s, the mean of its log, is above 1200.98 Mbit/s")


def test_a_value_from_a_log_is_named_beside_its_siblings(problems, entered):
    parts = {"runs_csv": runs({2: {"throughput_mbit_s": ""}}), "logs__near_csv": rates((t, 112.5) for t in range(30))}
    (problem,) = problems(**clean(**parts))
    assert problem.expected.startswith(
        "112.5 Mbit/s, the mean of its log, is 8.0 times below the other repeats (their median is 900.5 Mbit/s). "
        "112.5 MB/s would be 900.0 Mbit/s."
    )
    path = entered(**clean(**parts, answers_toml=answer("factor-8", "as logged")))
    assert asked(path, "SELECT throughput_mbit_s FROM run WHERE source_row = 2") == [(112.5,)]


def test_an_odd_value_from_a_log_is_named(write_batch):
    parts = {"runs_csv": runs({2: {"throughput_mbit_s": ""}}), "logs__near_csv": rates((t, 500) for t in range(30))}
    warnings = check_batch(write_batch(**clean(**parts)), catalog=None).warnings
    (warning,) = [one for one in warnings if one.row == 2 and one.code == "odd-repeat"]
    assert warning.expected.startswith("500.0 Mbit/s, the mean of its log, is 44.5 % below 900.5")

"""Long runs of requests: what verbs and sentences say of them, against numpy, and what they refuse to say."""

import csv
import json
from datetime import UTC, datetime

import numpy as np
import pytest
from click.testing import CliRunner
from frictionless import validate

from builder.cli import main
from builder.under_load.longruns import load_longruns, sentences
from catalog.connection import open_catalog
from catalog.entering import enter_batch
from tests.builder.under_load.nights_of_requests import MARK_MS, log_text, night_batch, waits
from tests.downloads import json_of

NOW = datetime(2025, 7, 2, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    folder = tmp_path_factory.mktemp("waits")
    enter_batch(night_batch(folder / "night"), into=folder / "c.db", now=NOW)
    return folder / "c.db"


@pytest.fixture
def told(tmp_path):
    """told(waits, row) -> the sentences of a run with these waits a second, None for no answer."""

    def tell(ms, row="requests,,,finished", *, step_s=1):
        log = log_text(
            np.arange(len(ms)) * step_s, np.array([one or 0 for one in ms]), np.array([one is not None for one in ms])
        )
        enter_batch(night_batch(tmp_path / "night", log=log, row=row, written=False), into=tmp_path / "c.db", now=NOW)
        (result,) = load_longruns(open_catalog(tmp_path / "c.db", readonly=True))
        return sentences(result)

    return tell


def ask(catalog, *words):
    result = CliRunner().invoke(main, ["--catalog", str(catalog), *words, "--as-of", "2025-07-03T00:00Z"])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_json_holds_what_numpy_makes_of_the_log(night):
    (run,) = json.loads(ask(night, "longrun", "porch", "--json"))["longruns"]
    assert (run["kind"], run["direction"], run["outcome"]) == ("requests", "down", "finished")
    t, ms, answered = waits()
    ranked = np.where(answered, ms, np.inf)
    figures = run["figures"]
    for percent in (50, 95, 99):
        assert figures[f"p{percent}_ms"] == np.quantile(ranked, percent / 100, method="inverted_cdf")
    assert figures["late"] == (ranked > MARK_MS).sum()
    assert figures["late_share"] == pytest.approx((ranked > MARK_MS).mean())
    assert [figures[k] for k in ("requests", "finished", "duration_s")] == [len(t), answered.sum(), 26 * 3600]
    # By hand: 2,500 s are not in the log, and the row before them covers its second.
    assert [figures[k] for k in ("logged_s", "longest_gap_s")] == [26 * 3600 - 2500, 2500]
    assert [figures[k] for k in ("longest_outage_s", "outage_at_s")] == [47, 50_000]
    assert [hour["requests"] for hour in figures["hours"]] == np.bincount(t // 3600).tolist()
    for hour in figures["hours"]:
        of = ranked[t // 3600 == hour["hour"] - 1]
        reference = np.quantile(of, 0.99, method="inverted_cdf")
        assert hour["p99_ms"] == (None if np.isinf(reference) else reference)
        assert hour["late"] == (of > MARK_MS).sum()


def test_the_verb_says_it_in_sentences(night):
    text = ask(night, "longrun", "porch")
    assert "1 July 2025, u2, 5 GHz, 80 MHz, download: finished" in text
    assert (
        "Over 26 h and 91100 requests: half were answered within 9.7 ms, 95 of 100 within 19 ms and 99 of 100 within 33.5 "
        "ms; 0.9 % took longer than 100 ms or had no answer; longest outage 47 s, 87 requests not answered; longest gap "
        "2500 s (25 of 26 h logged)."
    ) in text
    assert "in the slowest, hour 14, within 33.1 ms." in text


def test_a_trace_names_the_log_its_hash_and_its_rows_and_the_mark(night):
    (run,) = json.loads(ask(night, "longrun", "porch", "--json"))["longruns"]
    assert run["figure"].startswith("longwaits~porch~A~1.0~u2~s~5~80~down~")
    document = json.loads(ask(night, "trace", run["figure"], "--json"))
    (source,) = document["inputs"]
    assert (source["log"]["file"], source["log"]["rows"], source["mark_ms"]) == ("ping.csv", [2, 91_101], 100)
    assert len(source["log"]["sha256"]) == 64
    assert document["result"]["figures"] == run["figures"]
    text = ask(night, "trace", run["figure"])
    assert "ping.csv" in text
    assert "Longest outage: from the first of several requests in a row without an answer" in text


def test_what_few_requests_cannot_carry_is_refused(told):
    first, hours, untold = told([10 + n % 7 for n in range(300)], step_s=60)
    assert (
        first
        == "Over 5 h and 300 requests: half were answered within 13 ms and 95 of 100 within 16 ms; every request was answered."
    )
    assert hours == "Too few requests an hour to tell hours apart: 100 are needed for the slowest 5 of 100."
    assert untold == (
        "Too few requests to say within what time 99 of 100 are answered. No mark was set, so nothing says how many were "
        "late. Waits do not say how much came through, and whether hours differ by more than chance is not judged."
    )


def test_what_was_not_answered_has_no_percentile(told):
    # By hand: 8 of 100 requests fail, so that 92 of 100 were answered and 95 of 100 never.
    first, hours, untold = told([None if n % 25 in (3, 4) else 20 for n in range(7200)], "requests,30,,finished")
    assert (
        "half were answered within 20 ms; 8.0 % took longer than 30 ms or had no answer; longest outage 2 s," in first
    )
    assert hours == "In every hour more than 5 of 100 requests were not answered."
    assert untold.startswith("Fewer than 95 of 100 were answered at all.")


def test_a_short_run_does_not_show_how_hours_differ(told):
    _, hours, _ = told([20] * 3000)
    assert hours == "It lasted no more than an hour, so it does not show how hours differ."


def test_a_run_that_broke_off_says_so_and_one_of_a_client_fault_nothing(told, tmp_path):
    first, _, _ = told([20] * 3000, "requests,,,did not finish")
    assert first.startswith("Over 0.8 h and 3000 requests until it broke off: half")


def test_a_client_fault_counts_neither_way(told):
    assert told([20] * 3000, "requests,,,client fault") == ("The run ended as client fault; it counts neither way.",)


def test_requests_at_random_are_not_said_to_have_gaps(tmp_path):
    # A mean step of 4 s; by the rule a few of 3,000 steps are gaps, of some seconds each.
    starts = np.random.default_rng(4).exponential(4, 3000).cumsum().round(3)
    log = log_text(starts, np.full(3000, 20), np.full(3000, True))
    enter_batch(night_batch(tmp_path / "night", log=log, written=False), into=tmp_path / "c.db", now=NOW)
    (result,) = load_longruns(open_catalog(tmp_path / "c.db", readonly=True))
    assert 0 < result.waits.duration_s - result.waits.logged_s < 60
    assert sentences(result)[0].endswith("every request was answered.")


def test_the_downloads_hold_it(night, tmp_path):
    ask(night, "build", "--out", str(tmp_path / "site"))
    with (tmp_path / "site" / "data" / "longruns.csv").open(newline="") as file:
        (row,) = csv.DictReader(file)
    assert [row[k] for k in ("kind", "mark_ms", "p50_ms", "p99_ms", "longest_outage_s", "late")] == [
        *("requests", "100", "9.7", "33.5", "47"),
        str(json.loads(ask(night, "longrun", "porch", "--json"))["longruns"][0]["figures"]["late"]),
    ]
    assert validate(str(tmp_path / "site" / "data" / "datapackage.json")).valid
    (document,) = json_of(tmp_path / "site", "longruns")["rows"]
    assert len(document["figures"]["hours"]) == 26


@pytest.mark.parametrize(
    ("ms", "first"),
    [
        ([12.5], "Over 0 s and 1 request: none took longer than 50 ms or had no answer; every request was answered."),
        (
            [0] * 600,
            "Over 0.2 h and 600 requests: half were answered within 0 ms, 95 of 100 within 0 ms and 99 of 100 within 0 ms; ",
        ),
    ],
)
def test_odd_logs_are_said_plainly(told, ms, first):
    assert told(ms, "requests,50,,finished")[0].startswith(first)

"""Shares and percentiles that were noted where no log was kept: shown as noted then, judged by the mark in force alone."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime

import pytest

from builder.bench.bench import load_bench
from builder.pages.parts.mix_rows import share_cell
from builder.pages.parts.role_words import VERDICT_WORDS, percentile_text
from builder.traces.inputs import load_sources
from builder.traces.tracing import trace
from builder.under_load.documents import mix_json
from builder.under_load.mixes import load_mixes
from builder.under_load.workloads import workload_results
from catalog.checking.batches import check
from catalog.connection import open_catalog
from catalog.exporting import verify
from catalog.reading.batch import read_batch
from catalog.visibility import public_copy
from tests.evenings import PLAYED, enter, evening, superseding

AS_OF = datetime(2025, 8, 1, tzinfo=UTC)
HEADER = "mix,client,role,band,log,planned_requests,on_time_share,mark_ms,p50_ms,p90_ms,p99_ms,outcome,ended_at_s\n"
FILM = "mix-1,lap-1,film,5,,300,0.97,200,40,120.5,310,finished,\n"


def rows_of(film=FILM):
    """The evening, its film at lap-1 without a log."""
    return HEADER + film + "".join(f"mix-1,{row},,,,,,finished,\n" for row in PLAYED[1:])


def folder_with(tmp_path, film=FILM, **more):
    folder = evening(tmp_path, **more)
    (folder / "stations.csv").write_text(rows_of(film))
    return folder


@pytest.fixture
def mix_of(tmp_path):
    def played(film=FILM, *later):
        path = tmp_path / "catalog.db"
        enter(folder_with(tmp_path, film), path)
        for folder in later:
            enter(folder, path)
        with closing(public_copy(path, as_of=AS_OF)) as copy:
            (result,) = load_mixes(copy)
        return result

    return played


def film_of(mix):
    return next(r for r in mix.roles if r.role.role_id == "film" and r.station.client == "lap-1")


SAID = "97.0 % of 300 planned requests came within 200 ms; 50 % within 40.0 ms, 90 % within 121 ms, 99 % within 310 ms"


def test_a_share_of_the_mark_in_force_is_judged_and_said_to_be_noted(mix_of):
    film = film_of(mix_of())
    assert (film.verdict, film.certain) == ("met", False)
    assert film.sentence == f"Met in this run, as noted then, without a log: {SAID}; 95 % are asked for."


def test_a_share_below_the_mark_is_not_met(mix_of):
    film = film_of(mix_of(FILM.replace("0.97", "0.949")))
    assert (film.verdict, VERDICT_WORDS[film.verdict]) == ("not-met", "not met in this run")


def test_a_share_just_as_typed_meets_its_mark(mix_of):
    # 0.95 of 299 is 284.05: 284 would be 94.98 %, but nobody noted 284.
    assert film_of(mix_of(FILM.replace("300,0.97", "299,0.95"))).verdict == "met"


@pytest.mark.parametrize(
    ("film", "why"),
    [
        (FILM.replace("0.97,200", "0.97,150"), "the share was counted for 150 ms, and 200 ms are asked for"),
        (FILM.replace("0.97,200", "0.97,"), "what mark the share was counted for was not noted"),
        (FILM.replace("300,", ","), "how many requests were planned was not noted"),
        (FILM.replace("0.97,200", ","), "no share of requests in time was noted"),
    ],
)
def test_anything_else_has_no_verdict_and_says_why(mix_of, film, why):
    result = film_of(mix_of(film))
    assert (result.verdict, VERDICT_WORDS[result.verdict]) == ("no-verdict", "no verdict")
    assert result.sentence.startswith("As noted then, without a log: ")
    assert result.sentence.endswith(f" No verdict: {why}.")


def test_a_stricter_mark_takes_the_verdict_back(mix_of, tmp_path):
    film = film_of(mix_of(FILM, superseding(tmp_path, target_ms=100)))
    assert film.verdict == "no-verdict"
    assert film.sentence.endswith("No verdict: the share was counted for 200 ms, and 100 ms are asked for.")


def test_a_run_that_broke_off_stays_one(mix_of):
    film = film_of(mix_of(FILM.replace("finished,", "did not finish,380")))
    assert film.verdict == "did-not-finish"
    assert film.sentence == f"Broke off after 6:20 of 15:00. As noted then, without a log: {SAID}."


def test_tables_charts_json_and_trace_say_so(mix_of, tmp_path):
    mix = mix_of()
    film = film_of(mix)
    assert [percentile_text(film, percent) for percent in (50, 75, 90)] == [
        "40.0, as noted then",
        "not noted",
        "121, as noted then",
    ]
    cell = share_cell(film)
    assert (cell.share, cell.text, cell.detail) == (None, "97.0 %", "as noted then")
    stations = {(s["client"], s["role"]): s for s in mix_json(mix)["stations"]}
    assert stations["lap-1", "film"]["as_noted"] == {
        "on_time_share": 0.97,
        "mark_ms": 200.0,
        "planned": 300,
        "percentiles": {"50": 40.0, "90": 120.5, "99": 310.0},
    }
    assert stations["lap-1", "film"]["on_time_share"] is None
    assert "as_noted" not in stations["lap-2", "film"]
    assert mix.sentence.endswith("; film as noted then, without a log.")
    with closing(public_copy(tmp_path / "catalog.db", as_of=AS_OF)) as copy:
        told = trace(load_sources(copy), film.figure)
    (source,) = told["inputs"]
    assert (source["row"]["file"], source["row"]["row"], source["log"]) == ("stations.csv", 2, None)
    assert source["as_noted"]["on_time_share"] == 0.97
    assert told["formula"][0].startswith("On-time share and percentiles as the row states them")


def test_noted_roles_are_never_ranked_or_compared_with_a_verdict(tmp_path):
    path = tmp_path / "catalog.db"
    enter(folder_with(tmp_path), path)
    with closing(public_copy(path, as_of=AS_OF)) as copy:
        mixes = load_mixes(copy)
        (mix,) = mixes
        (result,) = workload_results(load_bench(copy), mixes)
    assert mix.incomplete
    assert film_of(mix).requests is None
    assert result.standings == ()
    assert [one.sentence for one in result.not_ranked] == ["Not ranked: every run is incomplete."]


@pytest.mark.parametrize(
    ("film", "code", "words"),
    [
        (FILM.replace("5,,300", "5,logs/1.csv,300"), "summary-and-log", "The row names a log and states on_time_share"),
        (FILM.replace("0.97", "97"), "too-large", "97 is above 1. A share lies between 0 and 1: 97 % is 0.97."),
        (FILM.replace("0.97", "-0.1"), "too-small", "-0.1 is below 0."),
        (FILM.replace("120.5", "30"), "percentiles-fall", "p90_ms is 30, less than p50_ms, 40"),
        (FILM.replace(",200,", ",0,"), "too-small", "0 is below 0.001 ms."),
        (FILM.replace("310", "1000000"), "longer-than-run", "p99_ms is 1e+06 ms, longer than the run"),
        (FILM.replace("310", "fast"), "not-a-number", "'fast' is not a number."),
    ],
)
def test_what_cannot_be_is_refused_in_words(tmp_path, film, code, words):
    (problem,) = check(read_batch(folder_with(tmp_path, film)), None).problems
    assert (problem.code, problem.row) == (code, 2)
    assert words in problem.expected
    assert problem.remedy


def test_a_noted_role_is_kept_and_entered_once(tmp_path):
    path = tmp_path / "catalog.db"
    enter(folder_with(tmp_path), path)
    with closing(open_catalog(path, readonly=True)) as db:
        assert verify(db) == []
        folder = folder_with(tmp_path, FILM.replace("0.97", "0.98"), batch_id="second")
        assert [(p.code, p.column) for p in check(read_batch(folder), db).problems] == [("conflict", "on_time_share")]

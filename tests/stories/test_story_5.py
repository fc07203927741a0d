"""Worked story 5: a collapse in the middle of a run, asked through the command line.

Every expected number was worked by hand in the job analysis.
"""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog import queries
from catalog.digesting.latency import nearest_rank
from catalog.visibility import public_copy

STORIES = Path(__file__).parent


@pytest.fixture
def ask(tmp_path):
    """ask(*batches) -> the roles document of the Alcove after entering them."""

    def asked(*batches, text=False):
        for batch in batches:
            run("enter", STORIES / batch)
        result = run("roles", "fjeldrun-alcove", *([] if text else ["--json"]))
        return result.stdout if text else json.loads(result.stdout)

    def run(*args):
        result = CliRunner().invoke(main, [*map(str, args), "--catalog", str(tmp_path / "catalog.db")])
        assert result.exit_code == 0, result.output
        return result

    return asked


def test_failures_rank_last_and_nothing_is_averaged_over_the_time_it_lived(ask):
    (mix,) = ask("05-collapse")["mixes"]
    assert (mix["outcome"], mix["survived_s"], mix["planned_s"], mix["ended_by"]) == (
        "did not finish",
        380,
        600,
        "power cycle",
    )
    pages, talk = mix["stations"]
    assert pages["verdict"] == "did-not-finish"
    assert (pages["planned"], pages["finished"], pages["failed"]) == (60, 38, 22)  # 38 / 380 * 600
    assert pages["on_time_share"] == pytest.approx(0.600, abs=1e-12)
    assert pages["percentiles"]["50"]["ms"] == 300
    assert {p: v["failed"] for p, v in pages["percentiles"].items()} == {
        "50": False,
        "75": True,
        "90": True,
        "95": True,
        "99": True,
    }
    assert {p for p, v in pages["percentiles"].items() if v["thin"]} == {"95", "99"}  # 60 * .05 = 3
    assert "Broke off after 6:20 of 10:00" in pages["sentence"]
    assert "60.0 % of 60 planned requests" in pages["sentence"]
    assert (talk["verdict"], talk["sentence"]) == ("not-tested", "Not tested: its log is missing.")
    assert mix["incomplete"]


def test_ranks_60_63_and_64_from_what_a_public_copy_holds(ask, tmp_path):
    ask("05-collapse")
    copy = public_copy(tmp_path / "catalog.db", as_of=datetime(2025, 8, 1, tzinfo=UTC))
    (ordered,) = [t for t in queries.thinned(copy) if t.quantity == "ordered"]
    finished = [us / 1000 for us in ordered.samples]
    found = {p: nearest_rank(finished, p, planned=60) for p in (50, 60, 63, 64, 90, 95)}
    assert found == {50: 300, 60: 800, 63: 2400, 64: None, 90: None, 95: None}


def test_until_the_collapse_only_under_that_label(ask):
    text = ask("05-collapse", text=True)
    assert "until it broke off: 94.7 % of 38 on time" in text
    assert text.count("800 ms") == 1  # p90 of those made, and nowhere else
    (mix,) = ask()["mixes"]
    until = mix["stations"][0]["until_the_collapse"]
    assert until["made"] == 38
    assert until["on_time_share"] == pytest.approx(36 / 38)
    assert until["percentiles"]["90"] == 800


def test_collapses_are_counts(ask):
    found = ask("05-collapse", "05-finished")
    assert found["collapses"] == {"did_not_finish": 1, "runs": 2, "sentence": "1 of 2 runs broke off"}
    assert "%" not in found["collapses"]["sentence"]
    finished = found["mixes"][1]
    assert "until_the_collapse" in finished["stations"][0]
    assert finished["stations"][0]["until_the_collapse"] is None
    assert [s["verdict"] for s in finished["stations"]] == ["met", "met"]


def test_a_client_fault_is_not_counted_against_the_device(ask):
    found = ask("05-collapse", "05-client-fault")
    fault = next(m for m in found["mixes"] if m["mix"] == "alcove-3")
    assert not fault["counted"]
    assert {s["verdict"] for s in fault["stations"]} == {"not-tested"}
    assert found["collapses"]["sentence"] == "1 of 1 run broke off"

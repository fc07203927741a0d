"""Runs that broke off, and the firmware since then; from worked story 5 and by hand."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from builder.bench.bench import load_bench
from builder.under_load.broken_runs import broken_runs, firmware_state, latest_tested, same_with
from builder.under_load.collapses import Count, mixes
from builder.under_load.longruns import load_longruns
from catalog import queries
from catalog.entering import enter_batch
from catalog.visibility import public_copy

STORIES = Path(__file__).parents[2] / "stories"
NOW = datetime(2025, 8, 1, tzinfo=UTC)


@pytest.fixture
def entered(tmp_path):
    """entered(*batches): (bench, broken runs, mixes) of a public copy."""

    def made(*batches):
        for batch in batches:
            enter_batch(STORIES / batch, into=tmp_path / "catalog.db", now=NOW)
        copy = public_copy(tmp_path / "catalog.db", as_of=NOW)
        found = mixes(queries.stations(copy))
        return load_bench(copy), broken_runs(queries.runs(copy), found, load_longruns(copy)), found

    return made


def test_a_collapse_keeps_its_time_and_who_ended_it(entered):
    # Story 5: stopped at 380 of 600 s, power cycle; the run that finished is not in the list.
    bench, found, every = entered("05-collapse", "05-finished")
    (one,) = found
    assert (one.kind, one.survived_s, one.planned_s, one.ended_by) == ("several", 380, 600, "power cycle")
    assert latest_tested(bench, one.device, every, []) == "1.0"
    assert firmware_state(bench, one.device, one.firmware, current="1.0") == "current"
    assert same_with(bench, one, "1.0", every, []) == Count(1, 2)


def test_a_client_fault_is_listed_but_is_not_a_collapse(entered):
    _, found, _ = entered("05-collapse", "05-client-fault")
    assert sorted(one.outcome for one in found) == ["client fault", "did not finish"]

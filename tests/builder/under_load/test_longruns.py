"""Long runs from batch to answer: the pattern of the acceptance check, a trend, and runs that broke off."""

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from click.testing import CliRunner
from scipy import stats

from builder.cli import main
from builder.under_load.longruns import (
    LongRunResult,
    load_longruns,
    longrun_json,
    period_sentence,
    steady_sentence,
)
from catalog.connection import open_catalog
from catalog.entering import enter_batch
from tests.batches import LINK, batch_at, batch_toml, client, device, radios, session

NIGHTS = {
    "timezone": "UTC",
    "device": [device("tessarik-porch", id="porch")],
    "client": [client("u2", radio=radios(2, 80))],
    "session": [session("s", "2025-07-01", house="h")],
    "defaults": {"longruns": {"device": "porch", "firmware": "1.0", "client": "u2", "session": "s", **LINK}},
}
# Source: acceptance check C11 of the job analysis.
PATTERN = [500, 500, 200]


@pytest.fixture
def night(tmp_path):
    """night(rates, step_s, outcome) -> the result of one long run entered from a batch of its own."""
    count = iter(range(1000))

    def entered(rates, *, step_s=10, outcome="finished", **house):
        number = next(count)
        lines = [f"{i * step_s},{rate}" for i, rate in enumerate(rates)]
        files = {
            "longruns.csv": f"when,log,outcome\n2025-07-01 20:00,night.csv,{outcome}\n",
            "night.csv": "t_s,mbit_s\n" + "\n".join(lines) + "\n",
        }
        text = batch_toml(f"batch-{number}", house=[{"id": "h", "name": "House", **house}], **NIGHTS)
        folder = batch_at(tmp_path / f"batch-{number}", text, files)
        catalog = tmp_path / f"{number}.db"
        enter_batch(folder, into=catalog, now=datetime(2025, 7, 2, tzinfo=UTC))
        (found,) = load_longruns(open_catalog(catalog, readonly=True))
        return found

    return entered


def ask(catalog, *args):
    result = CliRunner().invoke(main, [*args, "--catalog", str(catalog)])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_a_night_at_the_limit_of_the_lab_is_a_lower_bound(night):
    # Source: method sections 4 and 7: from 97 % of what the lab carries, 901.6 of 929.5, a value is a bound.
    rates = [925.0] * 18 + [880.0] * 2
    free, held = night(rates), night(rates, lab_limit_mbit_s=929.5)
    assert free.held_back == (False, False, False)
    assert "mean 921 Mbit/s, median 925, 5th percentile 880 (evenness 0.951)" in steady_sentence(free)
    assert held.held_back == (True, True, False)
    assert steady_sentence(held) == (
        "Over 0.1 h: mean ≥ 921 Mbit/s, median ≥ 925, 5th percentile 880 (evenness at most 0.951); longest stall 0 s, held "
        "back by the client or the lab."
    )
    assert longrun_json(held)["figures"]["bounds"] == {"mean": True, "median": True, "p05": False}


def test_six_cycles_are_a_period_and_five_are_not(night):
    # Source: check C11, its four and three cycles made six and five, which method section 7 asks for.
    found = night(PATTERN * 6).figures
    assert (found.mean, found.median, found.fifth_percentile) == (400, 500, 200)
    assert found.period.period_s == pytest.approx(30, rel=1e-6)
    assert period_sentence(found) == (
        "It repeats every 30 s, seen 6.0 times with one value every 10 s. Wander on all time scales can look the same, "
        "and one client alone cannot show the cause."
    )
    short = night(PATTERN * 5).figures
    assert short.period is None
    assert period_sentence(short) == "No period found between 20 s (two values) and 25 s (6 cycles)."


def test_shuffled_values_have_no_period(night):
    # Source: check C11. The seed of the surrogates is the run's key, the same in every catalogue here.
    shuffled = np.random.default_rng(3).permutation(PATTERN * 6)
    assert night(shuffled).figures.period is None


def test_drift_against_scipy(night):
    # Reference library: scipy's theilslopes and kendalltau on means of 5 minutes, of a run without memory.
    rates = np.random.default_rng(1).normal(500, 5, 3600).round(3) - np.arange(3600) / 200
    found = night(rates).figures.drift
    blocks = rates.reshape(-1, 30).mean(axis=1)
    hours = (np.arange(120) + 0.5) / 12
    slope, _, low, high = stats.theilslopes(blocks, hours, alpha=0.95)
    assert (found.per_hour, found.low, found.high) == pytest.approx((slope, low, high), rel=1e-4)
    assert found.found
    assert stats.kendalltau(hours, blocks).pvalue < 1e-10
    assert (found.blocks, found.block_s) == (120, 300)


def test_the_command_says_what_could_not_be_told(night, tmp_path):
    night(PATTERN * 3)
    text = ask(tmp_path / "0.db", "longrun", "porch")
    assert "Too short to tell a drift" in text
    document = json.loads(ask(tmp_path / "0.db", "longrun", "porch", "--json"))
    (run,) = document["longruns"]
    assert (run["figures"]["drift"], run["figures"]["period"]) == (None, None)
    assert run["figure"] == "longrun~porch~A~1.0~u2~s~5~80~down~2025-07-01T20_3a_00_3a_00Z"


def test_a_run_that_broke_off_is_labelled_and_one_a_client_ended_has_no_figures(night, tmp_path):
    broken: LongRunResult = night(PATTERN * 4, outcome="did not finish")
    assert broken.counted
    text = ask(tmp_path / "0.db", "longrun", "porch")
    assert "until it broke off" in text
    fault = night(PATTERN * 4, outcome="client fault")
    assert not fault.counted
    (run,) = json.loads(ask(tmp_path / "1.db", "longrun", "porch", "--json"))["longruns"]
    assert run["figures"] is None
    assert "counts neither way" in run["sentence"]

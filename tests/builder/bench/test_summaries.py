"""A summary of runs is judged as its runs would be, and without its spread by what the bench knows of one run."""

import math
from statistics import fmean, stdev

import numpy as np
import pytest
from scipy import stats

from builder.pairs.compare import compare
from builder.pairs.verdicts import to_json
from builder.windows.ranking import rank, ranking_groups

SPOT = {"spot": "S1", "spot_since": "2025-01-01", "attenuation_typed": False, "readings": 5, "readings_sd_db": 0.0}
NOTHING_ELSE = {
    "attenuation_sigma_db": 0.0,
    "placement_sigma_db": 0.0,
    "calibration_sigma_db": 0.0,
    "level_sigma_db": 0.0,
    "session_spread": 0.0,
}


def summed_up(values):
    """What one row says of runs."""
    return {"of_runs": len(values), "spread_mbit_s": stdev(values), "statistic": "mean"}


def add_summary(lab, device, places, *, spread=True, **fields):
    for loss, values in places:
        of = summed_up(values) | ({} if spread else {"spread_mbit_s": None})
        lab.add(device, [(loss, fmean(values))], **of | fields)


def only(lab, match="attenuation"):
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match=match)
    return figure


def places(rng, most, scatter, losses=(50.0, 56.0, 62.0, 70.0)):
    """Some of one run, some of several: (loss, runs)."""
    counts = rng.integers(2, 6, len(losses))
    return [
        (loss, (most * (1.3 - loss / 100) * (1 + scatter * rng.standard_normal(n))).tolist())
        for loss, n in zip(losses, counts, strict=True)
    ]


@pytest.mark.parametrize("match", ["attenuation", "level", "spot"])
@pytest.mark.parametrize("declared", [NOTHING_ELSE, {}], ids=["repeats alone", "every term"])
def test_runs_and_their_summary_give_the_same_figures_and_verdicts(lab, match, declared):
    # The same numbers by another way: only the last bits of a mean and a deviation may differ.
    rng = np.random.default_rng([3, len(match), len(declared)])
    lab.declared = declared
    seen = set()
    for _ in range(60):
        of = {"A": places(rng, 800, 0.05), "B": places(rng, 800 * rng.uniform(0.8, 1.2), 0.05)}
        figures = []
        for summaries in ((), ("A",), ("A", "B")):
            lab.runs.clear()
            for device, measured in of.items():
                for loss, values in measured:
                    fields = {"level_dbm": 20 - loss} | (SPOT | {"spot": f"S{loss:g}"} if match == "spot" else {})
                    if device in summaries:
                        add_summary(lab, device, [(loss, values)], **fields)
                    else:
                        lab.add(device, [(loss, values)], **fields)
            bench, (a, b) = lab.subjects("A", "B")
            figures.append([to_json(figure) for figure in compare(bench, a, b, match=match)])
        for one, other in zip(figures[0] * 2, figures[1] + figures[2], strict=True):
            assert one["verdict"] == other["verdict"]
            for name in ("difference", "standard_uncertainty", "half_width", "effective_df"):
                assert other[name] == pytest.approx(one[name], rel=1e-9, abs=1e-9), name
            assert (one["n_a"], one["n_b"], one["assumed"]) == (other["n_a"], other["n_b"], other["assumed"])
            seen.add(one["verdict"])
    assert seen == {"separated", "not-separated"}


@pytest.mark.parametrize(("n_a", "n_b"), [(2, 2), (3, 3), (3, 12), (30, 4)])
def test_at_one_spot_with_nothing_but_repeats_it_is_welchs_test(lab, n_a, n_b):
    # Source: scipy.stats.ttest_ind_from_stats with equal_var=False (Welch 1947), an implementation of its own.
    lab.declared = NOTHING_ELSE
    a, b = (812.5, 11.0, n_a), (790.0, 19.5, n_b)
    for device, (mean, spread, n) in (("A", a), ("B", b)):
        lab.add(device, [(55.0, mean)], of_runs=n, spread_mbit_s=spread, statistic="mean", **SPOT)
    figure = only(lab, "spot")
    test = stats.ttest_ind_from_stats(*a, *b, equal_var=False)
    assert figure.p == pytest.approx(test.pvalue, rel=1e-9)
    assert (figure.difference / figure.standard_uncertainty) == pytest.approx(test.statistic, rel=1e-12)
    variances = a[1] ** 2 / n_a, b[1] ** 2 / n_b
    df = sum(variances) ** 2 / (variances[0] ** 2 / (n_a - 1) + variances[1] ** 2 / (n_b - 1))
    assert figure.effective_df == pytest.approx(df, rel=1e-12)
    low, high = (22.5 + sign * stats.t.ppf(0.975, df) * math.sqrt(sum(variances)) for sign in (-1, 1))
    assert figure.interval == pytest.approx((low, high), rel=1e-9)
    assert (figure.n_a, figure.n_b) == (n_a, n_b)


@pytest.mark.parametrize(
    ("declared", "u"),
    [({"house_spread_mbit_s": 12.0}, 12.0), ({"house_spread_percent": 2.0}, math.hypot(16.0, 14.0) / math.sqrt(2))],
)
def test_without_a_spread_the_declared_one_is_divided_by_the_root_of_n(lab, declared, u):
    lab.declared = NOTHING_ELSE | declared
    lab.add("A", [(55.0, 800.0)], of_runs=4, statistic="mean", **SPOT)
    lab.add("B", [(55.0, 700.0)], of_runs=4, statistic="mean", **SPOT)
    figure = only(lab, "spot")
    # By hand: u^2 = 2 * 12^2 / 4, or (16^2 + 14^2) / 4.
    assert figure.standard_uncertainty == pytest.approx(u * math.sqrt(2) / 2)
    assert figure.effective_df == math.inf


def test_without_a_spread_the_pooled_relative_one_is_divided_by_the_root_of_n(lab):
    lab.declared = NOTHING_ELSE
    for device in ("A", "B"):
        lab.add(device, [(60.0, [490.0, 500.0, 510.0])], **SPOT | {"spot": "S2"})
        lab.add(device, [(55.0, 800.0)], of_runs=4, statistic="mean", **SPOT)
    bench, (a, b) = lab.subjects("A", "B")
    figure = next(f for f in compare(bench, a, b, match="spot") if f.spot == "S1")
    # By hand: s/m = 10/500 with 4 degrees of freedom in all, lent to 800 of 4 runs: 16/2 each.
    assert figure.standard_uncertainty == pytest.approx(8 * math.sqrt(2))
    assert figure.effective_df == pytest.approx(4)


def test_with_nothing_to_borrow_there_is_no_verdict_and_nobody_says_measured_once(lab):
    for device, value in (("A", 800.0), ("B", 700.0)):
        lab.add(device, [(55.0, value)], of_runs=4, statistic="mean", **SPOT)
    figure = only(lab, "spot")
    assert (figure.verdict, figure.code, figure.difference) == ("no-verdict", "single-run", 100.0)
    assert figure.sentence.startswith(
        "No spread: A has only a summary of several runs at a spot that counts here, without their spread"
    )
    lab.runs.clear()
    lab.add("A", [(55.0, 800.0)], **SPOT)
    lab.add("B", [(55.0, 700.0)], of_runs=4, statistic="mean", **SPOT)
    assert only(lab, "spot").sentence.startswith("Single run: A was measured only once")


def test_a_spread_of_a_summary_is_lent_like_that_of_runs(lab):
    lab.declared = NOTHING_ELSE
    for device, value in (("A", 800.0), ("B", 700.0)):
        lab.add(device, [(60.0, 500.0)], of_runs=3, spread_mbit_s=10.0, statistic="mean", **SPOT | {"spot": "S2"})
        lab.add(device, [(55.0, value)], **SPOT)
    bench, (a, b) = lab.subjects("A", "B")
    figure = next(f for f in compare(bench, a, b, match="spot") if f.spot == "S1")
    assert figure.standard_uncertainty == pytest.approx(math.hypot(16.0, 14.0))


def test_a_median_is_compared_only_with_that_said(lab):
    lab.declared = NOTHING_ELSE
    for device, statistic in (("A", "median"), ("B", "mean")):
        for loss in (50.0, 60.0, 70.0):
            lab.add(device, [(loss, 500.0)], of_runs=4, spread_mbit_s=10.0, statistic=statistic)
    figure = only(lab)
    assert to_json(figure)["assumed"] == ["median_for_mean"]
    # By hand: weights 1/4, 1/2, 1/4; of normal values a median scatters pi/2 times as much as a mean.
    assert figure.standard_uncertainty == pytest.approx(math.sqrt(6 / 16 * 100 / 4 * (1 + math.pi / 2)))
    bench = lab.bench()
    group = ranking_groups(bench)[0]
    assert {r.subject.device: "median_for_mean" in r.assumed for r in rank(bench, group, "near").ranked} == {
        "A": True,
        "B": False,
    }
    cells = {cell.device: cell for cell in bench.cells}
    assert [(cells[name].summary, cells[name].median) for name in "AB"] == [("median of 4", 500.0), ("mean of 4", None)]


def test_a_summary_is_a_cell_of_n_runs(lab):
    lab.ceiling("wrenlet-u2", 800.0)
    lab.add("A", [(55.0, 790.0)], of_runs=4, spread_mbit_s=3.0, statistic="mean")
    lab.add("A", [(55.0, [500.0, 510.0])])
    runs, summary = sorted(lab.bench().cells, key=lambda cell: cell.n)
    assert (summary.n, summary.mean, summary.sd, summary.bound) == (4, 790.0, 3.0, True)
    assert dict(summary.outcomes) == {"finished": 4}
    assert (runs.n, runs.summary, runs.median) == (2, "", 505.0)

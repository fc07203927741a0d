"""Session factors and normalised values: the example of the job analysis, and what is worked by hand."""

import math
import statistics

import pytest
from scipy import stats

from builder.bench.sessions import normalised, normalised_json, session_factors


def sessions(lab, today, *, others=8, repeats=1, device="Ref"):
    """The reference at 600 in *others* sessions and at *today* in session "today"."""
    lab.houses = {"house-a": device}
    for number in range(others):
        lab.add(device, [(60, [600.0] * repeats)], session=f"s{number}")
    lab.add(device, [(60, [today] * repeats)], session="today")


def value_of(lab, raw, **fields):
    lab.add("Sill", [(60, raw)], session="today", **fields)
    bench = lab.bench()
    factors = session_factors(bench)
    cell = next(c for c in bench.cells_of["Sill"])
    return normalised(bench, factors, cell)


def test_the_example_of_the_job_analysis(lab):
    # Source: job analysis b6: 570 / 600 = 0.95; 475 becomes 500.0.
    sessions(lab, 570.0)
    found = value_of(lab, 475.0)
    assert found.factor.factor == pytest.approx(0.95)
    assert found.value == pytest.approx(500.0)
    assert not found.factor.suspended


def test_an_odd_day_is_suspended(lab):
    # Source: job analysis b6: 500 / 600 suspends. By hand: 0.90 and 1.10 themselves do not.
    sessions(lab, 500.0)
    found = value_of(lab, 475.0)
    assert found.factor.suspended
    assert found.value is None
    assert found.sentence.endswith("outside 0.90–1.10: suspended until someone decides.")


@pytest.mark.parametrize(("today", "suspended"), [(540.0, False), (539.0, True), (660.0, False), (661.0, True)])
def test_the_limits_of_suspension(lab, today, suspended):
    sessions(lab, today)
    assert value_of(lab, 475.0).factor.suspended is suspended


def test_other_sessions_alone_are_the_long_run(lab):
    # By hand: with one odd day among three, 500 / ((600 + 600) / 2) = 0.833; its own value would have hidden it.
    sessions(lab, 500.0, others=2)
    assert value_of(lab, 475.0).factor.factor == pytest.approx(5 / 6)
    two = type(lab)()
    sessions(two, 500.0, others=1)
    assert value_of(two, 475.0).factor is None


def test_the_references_own_uncertainty_joins_the_interval(lab):
    # By hand, terms in quadrature (JCGM 100:2008, 5.1.2) and Welch-Satterthwaite (G.4) with scipy's t quantile.
    lab.houses = {"house-a": "Ref"}
    days = [590.0, 600.0, 610.0, 600.0]
    for number, day in enumerate(days):
        lab.add("Ref", [(60, [day, day])], session=f"s{number}")
    lab.add("Ref", [(60, [560.0, 570.0, 580.0])], session="today")
    lab.add("Sill", [(60, [470.0, 475.0, 480.0])], session="today")
    bench = lab.bench()
    found = normalised(bench, session_factors(bench), bench.cells_of["Sill"][0])
    factor, value = 570 / 600, 475 / 0.95
    long_run = (factor * statistics.stdev(days) / math.sqrt(4) / 600) ** 2
    today = (statistics.stdev([560, 570, 580]) / 600) ** 2 / 3
    own = (value / 475) ** 2 * statistics.variance([470, 475, 480]) / 3
    parts = [(own, 2), ((value / factor) ** 2 * long_run, 3), ((value / factor) ** 2 * today, 2)]
    # The factor's two parts enter as one component with their own effective degrees of freedom.
    factor_v = parts[1][0] + parts[2][0]
    factor_df = factor_v**2 / (parts[1][0] ** 2 / 3 + parts[2][0] ** 2 / 2)
    u = math.sqrt(own + factor_v)
    df = u**4 / (own**2 / 2 + factor_v**2 / factor_df)
    assert found.value == pytest.approx(value)
    assert found.half_width == pytest.approx(stats.t.ppf(0.975, df) * u, rel=1e-9)


def test_a_factor_is_the_mean_of_its_places_and_has_an_interval_around_it(lab):
    # By hand: 570 of 600 and 441 of 420 are 0.95 and 1.05, their mean 1. Both places' long runs come from the same days,
    # so their errors add before they are squared: the mean of 0.95 * (10 / sqrt(3)) / 600 and 1.05 * (7 / sqrt(3)) / 420.
    lab.houses = {"house-a": "Ref"}
    for number, step in enumerate((-1, 0, 1)):
        lab.add("Ref", [(60, [600.0 + 10 * step] * 2), (70, [420.0 + 7 * step] * 2)], session=f"s{number}")
    lab.add("Ref", [(60, [570.0, 570.0]), (70, [441.0, 441.0])], session="today")
    factor = next(f for f in session_factors(lab.bench()).values() if f.session == "today")
    u = (0.95 * 10 / 600 + 1.05 * 7 / 420) / math.sqrt(3) / 2
    assert (factor.factor, factor.u, factor.df) == (pytest.approx(1.0), pytest.approx(u), pytest.approx(2))
    half = stats.t.ppf(0.975, 2) * u
    assert factor.interval == pytest.approx((1 - half, 1 + half))


def test_a_normalised_value_is_written_with_its_interval_and_its_factor(lab):
    sessions(lab, 570.0, repeats=2)
    found = value_of(lab, [470.0, 480.0])
    entry = normalised_json(found)
    assert (entry["value"], entry["factor"], entry["state"]) == (pytest.approx(500.0), pytest.approx(0.95), "in force")
    assert entry["interval"] == [found.value - found.half_width, found.value + found.half_width]
    assert entry["interval"][0] < 500 < entry["interval"][1]
    odd = type(lab)()
    sessions(odd, 500.0, repeats=2)
    entry = normalised_json(value_of(odd, [470.0, 480.0]))
    assert (entry["value"], entry["interval"], entry["suspended"]) == (None, None, True)
    assert entry["factor"] == pytest.approx(5 / 6)


def test_a_reference_that_ran_once_gives_a_factor_without_an_interval(lab):
    sessions(lab, 570.0)
    (factor, *_) = session_factors(lab.bench()).values()
    assert (factor.u, factor.interval) == (None, None)


def test_a_group_the_reference_was_not_tested_in_is_not_normalised(lab):
    sessions(lab, 570.0)
    found = value_of(lab, 475.0, direction="up")
    assert (found.value, found.factor) == (None, None)
    assert found.sentence.startswith("Not normalised")


def test_a_bound_stays_a_bound(lab):
    sessions(lab, 570.0)
    lab.ceiling("wrenlet-u2", 700.0)
    found = value_of(lab, 690.0)
    assert found.bound
    assert found.half_width is None

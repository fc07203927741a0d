"""Day-to-day spread from the reference device."""

import statistics

import pytest


def _sessions(lab, factors):
    lab.houses["house-a"] = "Reference"
    for number, factor in enumerate(factors):
        for loss, value in ((50, 900), (60, 600)):
            lab.add("Reference", [(loss, value * factor)], session=f"s{number}")


def test_eight_sessions_measure_it(lab):
    factors = [1.02, 0.98, 1.01, 0.97, 1.03, 1.0, 0.99, 1.0]
    _sessions(lab, factors)
    spread = lab.bench().spreads["house-a"]
    # By hand: every cell moves with its session's factor, so the spread is that of the factors over their mean.
    assert spread.fraction == pytest.approx(statistics.stdev(factors) / statistics.fmean(factors))
    assert (spread.source, spread.df) == ("measured", 7)


def test_seven_sessions_do_not_and_the_declared_value_is_taken(lab):
    _sessions(lab, [1.02, 0.98, 1.01, 0.97, 1.03, 1.0, 0.99])
    lab.declared["session_spread"] = 0.05
    spread = lab.bench().spreads["house-a"]
    assert (spread.fraction, spread.source) == (0.05, "declared")
    lab.declared["session_spread"] = None
    assert lab.bench().spreads["house-a"].source == "assumed"


def test_assumed_constants_are_named(lab):
    from builder.comparisons.matched import compare

    lab.declared = {}
    lab.add("A", [(50, [900, 910, 905]), (60, [700, 710, 705])], session="s1")
    lab.add("B", [(50, [800, 810, 805]), (60, [600, 610, 605])], session="s2")
    bench, (a, b) = lab.subjects("A", "B")
    figure = compare(bench, a, b, match="attenuation")[0]
    assert set(figure.assumed) == {"session_spread", "attenuation_sigma_db", "calibration_sigma_db"}

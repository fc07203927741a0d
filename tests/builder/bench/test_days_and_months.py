"""What only a day or a month is known of cancels with nothing that a clock time or a day would have let it cancel with."""

import math

import pytest

from builder.bench.reference import reference_chain
from builder.bench.sessions import session_factors
from builder.pairs.compare import compare

LOSSES = (50.0, 60.0)


def difference(lab, *, declared, **fields):
    """u of the difference of two devices that give 500 everywhere, three repeats a place."""
    lab.runs.clear()
    lab.declared = {"attenuation_sigma_db": 0.0, "placement_sigma_db": 0.0, "calibration_sigma_db": 0.0} | declared
    for device, most in (("A", 600.0), ("B", 500.0)):
        for loss, value in zip(LOSSES, (most, most / 2), strict=True):
            lab.add(device, [(loss, [value, value, value])], **fields)
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="attenuation")
    return figure.standard_uncertainty


def test_a_month_is_shared_by_no_two_devices(lab):
    day = difference(lab, declared={"session_spread": 0.03})
    month = difference(lab, declared={"session_spread": 0.03}, date="2019-03", at_utc="2019-03")
    assert day == 0.0  # one session on both sides
    assert month == pytest.approx(0.03 * math.hypot(450.0, 375.0))  # the mean of each line over the range


def test_two_cells_of_one_device_share_its_month(lab):
    declared = {"session_spread": 0.03}
    month = difference(lab, declared=declared, date="2019-03", at_utc="2019-03")
    own_days = difference(lab, declared=declared, at_utc="2019-03-04", session="s2")
    assert own_days == 0.0
    assert month > 0.03 * 450.0  # added up over the places before it is squared


def test_runs_of_a_cell_without_a_clock_are_one_visit_of_their_own(lab):
    declared = {"session_spread": 0.0, "placement_sigma_db": 1.0}
    clocked = difference(lab, declared=declared)
    by_day = difference(lab, declared=declared, at_utc="2019-03-04", date="2019-03-04")
    assert by_day == pytest.approx(clocked)  # three repeats in a row were one visit, too
    (cell, *_) = lab.bench().cells
    assert len(cell.visits) == 1


def test_without_a_clock_nobody_knows_that_a_client_stood_still_between_two_links(lab):
    def visits(at):
        lab.runs.clear()
        for direction in ("down", "up"):
            lab.add("A", [(50.0, [500.0, 500.0])], direction=direction, at_utc=at)
        return [{visit for visit, _ in cell.visits} for cell in lab.bench().cells]

    down, up = visits("2025-05-12T08:00:00Z")
    assert down == up
    down, up = visits("2025-05-12")
    assert not down & up


def test_nothing_is_learnt_of_days_from_months(lab):
    lab.houses = {"house-a": "A"}
    for number in range(1, 9):
        date = f"2019-0{number}-11"
        values = [(loss, [700.0 + 9 * number - loss] * 3) for loss in (50.0, 60.0, 70.0)]
        lab.add("A", values, session=f"s{number}", date=date if number < 7 else date[:7], at_utc=date)
    bench = lab.bench()
    chain = reference_chain(bench.houses["house-a"], bench.cells)
    assert chain.sessions == tuple(f"s{number}" for number in range(1, 7))
    assert {key[1] for key in session_factors(bench)} == set(chain.sessions)

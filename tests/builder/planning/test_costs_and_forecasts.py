"""Minutes from clock times, and values and scatter from the group, worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from builder.bench.bench import subject_named
from builder.planning.costs import PRACTICE_MINUTES, costs_of
from builder.planning.forecasts import forecast, group_spread, spread_ratio
from builder.planning.places import spots_of
from tests.builder.conftest import RUN


def runs_at(*minutes, device="a", spots=None, session="s1"):
    return [
        replace(
            RUN,
            run_id=i,
            device=device,
            session=session,
            at_utc=f"2025-05-12T{8 + minute // 60:02d}:{minute % 60:02d}:00Z",
            spot=f"S{i // 3 if spots is None else spots[i]}",
        )
        for i, minute in enumerate(minutes)
    ]


def a_day(begin, device):
    """Five spots, three runs 2 minutes apart, 9 minutes from the last run of a spot to the first of the next."""
    starts = [begin + 13 * spot for spot in range(5)]
    return runs_at(*(start + 2 * repeat for start in starts for repeat in range(3)), device=device, session="s1")


def test_minutes_are_medians_of_what_clock_times_show():
    one = a_day(0, "a")
    days = [replace(run, session=f"day {i}") for i in range(3) for run in one]
    shown = costs_of(days, {"session_minutes": 30.0, "run_minutes": 99.0})
    assert (shown.run_minutes, shown.spot_minutes) == (2.0, 9.0 - 2.0)  # 12 ways a day's 4 changes of spot
    assert (shown.session_minutes, shown.sources["session_minutes"]) == (30.0, "declared")
    assert (shown.swap_minutes, shown.sources["swap_minutes"]) == (10.0, "practice")
    # The other device follows 20 minutes after the last run: 20 less a run and a change of spot, 11 days of it.
    swaps = [replace(run, session=f"day {i}") for i in range(11) for run in (*one, *a_day(56 + 20, "b"))]
    assert costs_of(swaps, {}).swap_minutes == pytest.approx(20 - 9)


def test_too_few_clock_times_show_nothing_and_breaks_are_no_walks():
    few = costs_of(runs_at(0, 2, 4, 200, 202, 204), {})
    assert dict(few.sources) == dict.fromkeys(PRACTICE_MINUTES, "practice")
    days = [replace(run, session=f"day {i}") for i in range(12) for run in runs_at(0, 2, 4, 300, 302, 304)]
    assert costs_of(days, {}).sources["spot_minutes"] == "practice"  # 296 minutes are a break
    undated = [replace(run, at_utc="2025-05-12") for run in days]
    assert costs_of(undated, {}).sources["run_minutes"] == "practice"


def test_minutes_of_a_plan_by_hand():
    costs = costs_of([], {})
    plans = np.array([[3, 0, 4, 0, 0, 0], [3, 0, 4, 2, 0, 0]])
    # 7 runs of 2, 2 spots of 6, a day of 45; then 9 runs, 3 spots, 2 days.
    assert costs.minutes(plans, spots=3, both=False).tolist() == [14 + 12 + 45, 18 + 18 + 90]
    # Two devices in two passes: twice the runs, four times the walks, two swaps a day.
    assert costs.minutes(plans[:1], spots=3, both=True).tolist() == [28 + 48 + 45 + 20]


def spotted(lab, device, values, **fields):
    for number, (loss, repeats) in enumerate(values):
        lab.add(device, [(loss, repeats)], spot=f"S{number}", spot_since="2025-01-01", **fields)


def test_scatter_is_apart_from_sixteen_degrees_of_freedom_on(lab):
    # Strong cells scatter by 2 %, weak ones by 10 %: three repeats 1 - s, 1, 1 + s have the standard deviation s.
    def cells(count):
        strong = [(50.0 + i, (980.0, 1000.0, 1020.0)) for i in range(count)]
        return strong + [(80.0 + i, (90.0, 100.0, 110.0)) for i in range(count)]

    spotted(lab, "A", cells(8))
    bench = lab.bench()
    (group,) = bench.cells_in
    spread = group_spread(bench, group)
    assert (spread.strong_df, spread.weak_df) == (16, 16)
    assert (spread.strong, spread.weak) == (pytest.approx(0.02), pytest.approx(0.10))
    lab.runs.clear()
    spotted(lab, "A", cells(7))
    bench = lab.bench()
    together = group_spread(bench, next(iter(bench.cells_in)))
    assert together.strong == together.weak == pytest.approx(((0.02**2 + 0.10**2) / 2) ** 0.5)
    assert spread_ratio(bench.cells, together) == pytest.approx(1.0)


def test_without_repeats_the_declared_spread_counts_or_nothing(lab):
    spotted(lab, "A", [(50.0, 900.0), (60.0, 700.0)])
    bench = lab.bench()
    assert group_spread(bench, next(iter(bench.cells_in))) is None
    lab.declared["house_spread_percent"] = 4.0
    bench = lab.bench()
    assert group_spread(bench, next(iter(bench.cells_in))).weak == pytest.approx(0.04)


def test_values_are_the_devices_own_else_the_medians_as_high_as_it_is(lab):
    repeats = (1.0, 1.02, 0.98)
    for device, factor in (("A", 1.0), ("B", 1.1), ("C", 0.9)):
        spotted(lab, device, [(x, [factor * v * r for r in repeats]) for x, v in ((50, 900), (60, 700), (70, 400))])
    spotted(lab, "D", [(50.0, [1.2 * 900 * r for r in repeats]), (60.0, [1.2 * 700 * r for r in repeats])])
    bench = lab.bench()
    (group,) = bench.cells_in
    bench = replace(bench, epochs={})
    typed = [replace(c, spot=None, place=("loss", repr(c.attenuation_db))) for c in bench.cells]
    spots = spots_of(bench, "house-a", "5", typed)
    assert [spot.label for spot in spots] == ["50 dB", "60 dB", "70 dB"]
    spread = group_spread(bench, group)
    d = forecast(bench, subject_named(bench, "D"), group, spots, spread)
    # The median of the others at 70 dB is 400; D is 1.2 times as high as they at 60 dB.
    assert d.values.tolist() == pytest.approx([1080.0, 840.0, 480.0])
    assert d.own_line
    a = forecast(bench, subject_named(bench, "A"), group, spots, spread)
    assert a.values.tolist() == pytest.approx([900.0, 700.0, 400.0])
    assert len(a.kin) == 3

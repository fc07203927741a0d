"""The difference of two lines place by place. Reference: method section 3 in plain loops (one_by_one.py), place by place."""

from dataclasses import replace

import pytest

from builder.bench.bench import subject_named
from builder.metrics.intervals import half_width
from builder.pairs.compare import compare
from builder.pairs.differences import place_differences
from builder.pairs.pairing import tracks
from tests.builder.bench.one_by_one import standard_uncertainty

SIGMAS = {
    "attenuation_sigma_db": 0.6,
    "placement_sigma_db": 0.5,
    "calibration_sigma_db": 0.4,
    "level_sigma_db": 0.7,
    "session_spread": 0.03,
}


def figure_of(bench, match="attenuation"):
    (figure,) = compare(bench, subject_named(bench, "A"), subject_named(bench, "B"), match=match)
    return figure


def two_houses(lab):
    lab.declared |= SIGMAS
    for house, session, shift in (("house-a", "s1", 0), ("house-b", "s2", -15)):
        for device, higher in (("A", 80), ("B", 0)):
            values = [
                (x + (house == "house-b") * 4, [y + higher + shift, y + higher + shift + 12, y + higher - 9])
                for x, y in ((50, 800), (60, 640), (70, 380))
            ]
            lab.add(device, values, house=house, session=session, kit=f"kit of {house}")
    return lab.bench()


@pytest.mark.parametrize("match", ["attenuation", "level"])
def test_each_place_has_the_interval_of_the_method(lab, match):
    bench = two_houses(lab)
    if match == "level":
        lab.runs = [replace(r, level_dbm=20.0 - (r.attenuation_db or 0) - 2 * (r.device == "B")) for r in lab.runs]
        bench = lab.bench()
    figure = figure_of(bench, match)
    places = place_differences(bench, figure)
    a, b = tracks(bench, figure, match=match)
    assert len(places) >= 5
    for place in places:
        x = -place.x if match == "level" else place.x
        sides = a.at(x), b.at(x, sign=-1)
        known = standard_uncertainty(sides, match=match, pool=[*a.cells, *b.cells], scatter=bench.scatter)
        half = float(half_width(known.u, known.df))
        assert [place.value] == pytest.approx([a.line.at([x])[0] - b.line.at([x])[0]])
        assert place.interval == pytest.approx((place.value - half, place.value + half))


def test_places_are_the_knots_of_both_inside_of_the_shared_range(lab):
    lab.add("A", [(45, [900, 902]), (55, [800, 803]), (65, [600, 604])])
    lab.add("B", [(55, [700, 703]), (60, [620, 622]), (65, [500, 503]), (75, [300, 301])])
    bench = lab.bench()
    places = place_differences(bench, figure_of(bench))
    assert [(p.x, p.measured) for p in places] == [(55, True), (60, False), (65, True)]
    # By hand: 801.5 - 701.5; between 801.5 and 602 at half of the way, less 621; 602 - 501.5.
    assert [p.value for p in places] == pytest.approx([100, 80.75, 100.5])


def test_levels_are_printed_below_zero(lab):
    for device, level in (("A", -40), ("B", -42)):
        for step in range(4):
            lab.add(device, [(50 + 8 * step, [800 - 100 * step, 803 - 100 * step])], level_dbm=level - 8.0 * step)
    bench = lab.bench()
    figure = figure_of(bench, "level")
    places = place_differences(bench, figure)
    assert [p.x for p in places] == [-42, -48, -50, -56, -58, -64]
    assert not any(p.measured for p in places)


def test_a_bound_leaves_the_difference_open_on_one_side(lab):
    lab.ceiling("wrenlet-u2", 900)
    lab.add("A", [(50, [900, 900]), (60, [600, 604]), (70, [300, 303])])
    lab.add("B", [(50, [700, 703]), (60, [500, 503]), (70, [200, 203])])
    bench = lab.bench()
    first, *rest = place_differences(bench, figure_of(bench))
    assert (first.bound, first.interval) == ("least", None)
    assert all(p.bound is None and p.interval is not None for p in rest)
    assert first.value == pytest.approx(198.5)


def test_where_both_are_bounds_there_is_no_difference(lab):
    lab.ceiling("wrenlet-u2", 900)
    for device, less in (("A", 0), ("B", 60)):
        lab.add(device, [(50, [900, 900]), (60, [600 - less, 604 - less]), (70, [300 - less, 303 - less])])
    bench = lab.bench()
    assert [p.x for p in place_differences(bench, figure_of(bench))] == [60, 70]


def test_a_single_run_without_a_spread_has_no_interval(lab):
    lab.add("A", [(50, 900), (60, 600), (70, 300)])
    lab.add("B", [(50, 800), (60, 500), (70, 200)])
    bench = lab.bench()
    assert [(p.value, p.interval) for p in place_differences(bench, figure_of(bench))] == [(100, None)] * 3


def test_a_refused_pair_has_none(lab):
    lab.add("A", [(50, [900, 903]), (60, [600, 603])])
    lab.add("B", [(80, [200, 203]), (90, [100, 103])])
    bench = lab.bench()
    figure = figure_of(bench)
    assert figure.verdict == "refused"
    assert place_differences(bench, figure) == ()


def test_lines_of_a_level_match_are_of_its_one_setup(lab):
    for device in ("A", "B"):
        for driver in ("1.0", "2.0"):
            for step in range(4):
                more = 50 if driver == "2.0" else 0
                lab.add(
                    device,
                    [(50 + 8 * step, [800 + more - 100 * step, 803 + more - 100 * step])],
                    level_dbm=-40 - 8.0 * step,
                    driver=driver,
                )
    bench = lab.bench()
    figures = compare(bench, subject_named(bench, "A"), subject_named(bench, "B"), match="level")
    assert [f.driver for f in figures] == ["1.0", "2.0"]
    for figure, first in zip(figures, (801.5, 851.5), strict=True):
        for track in tracks(bench, figure, match="level"):
            assert track.line.y[0] == pytest.approx(first)
            assert {c.driver for c in track.cells} == {figure.driver}

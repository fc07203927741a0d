"""The intervals along all lines of a group at once beside those of one line, place by place."""

import math

import pytest
from hypothesis import HealthCheck, given, settings

from builder.bench.bench import cells_of_subject
from builder.bench.tracks import track
from builder.windows.knots import knots
from builder.windows.line_points import SAMPLED_AT, line_intervals, line_point
from tests.builder.pairs.test_all_pairs import labs


def alike(found, wanted):
    return math.isnan(found) if wanted is None else found == pytest.approx(wanted, rel=1e-9, abs=1e-9)


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(labs())
def test_intervals_of_a_group_are_those_of_its_lines(lab):
    bench, subjects = lab.subjects(*sorted({run.device for run in lab.runs}))
    for group in sorted({cell.group for cell in bench.cells}, key=lambda g: g.sort_key):
        every = [track(cells_of_subject(bench, who, group), match="attenuation") for who in subjects]
        tracks = [t for t in every if t is not None]
        for one, found in zip(tracks, line_intervals(bench, tracks), strict=True):
            for knot, half in zip(knots(bench, [one], match="attenuation")[0], found.at_knots, strict=True):
                assert alike(half, None if knot.low is None else (knot.high - knot.low) / 2)
            x = one.line.x
            for left, right, halves in zip(x, x[1:], found.between, strict=False):
                points = [line_point(bench, one, float(left + share * (right - left))) for share in SAMPLED_AT]
                for half, point in zip(halves, points, strict=True):
                    assert alike(half, point and point.half_width)


def test_no_line_has_no_intervals(lab):
    lab.add("A", [(50, [500.0, 510.0])])
    assert line_intervals(lab.bench(), []) == []

"""Method section 3 stands in one place: one of its terms changed there moves every figure that has an interval."""

import numpy as np
import pytest

from builder.bench import uncertainty
from builder.bench.bench import cells_of_subject
from builder.bench.tracks import track
from builder.pairs.all_pairs import line_pairs
from builder.pairs.compare import compare
from builder.windows.knots import knots
from builder.windows.line_points import line_point
from builder.windows.ranking import rank, window_value

ADDED = 400.0  # Mbit^2/s^2


@pytest.fixture
def two_devices(lab):
    for name, top in (("A", 900.0), ("B", 870.0)):
        for loss in (60, 66, 70, 75):
            value = top - 20 * (loss - 60)
            lab.add(name, [(loss, [value - 8, value, value + 9])])
    return lab.subjects("A", "B")


def half_widths(bench, a, b):
    """Of the pair, the pair among all pairs, a row of the ranking, a knot, a point, and what a trace of the window says. [Mbit/s]"""
    group = bench.cells[0].group
    (pair,) = compare(bench, a, b, match="attenuation")
    tracks = [track(cells_of_subject(bench, who, group), match="attenuation") for who in (a, b)]
    table = line_pairs(bench, tracks, np.array([0]), np.array([1]), match="attenuation")
    row = next(entry for entry in rank(bench, group, "middle").ranked if entry.subject == a)
    knot = knots(bench, tracks[:1], match="attenuation")[0][1]
    point = line_point(bench, tracks[0], 68.0)
    return {
        "pair": pair.half_width,
        "all pairs": float(table.half_width[0]),
        "ranking": (row.high - row.low) / 2,
        "knot": (knot.high - knot.low) / 2,
        "point": point.half_width,
        "trace": window_value(bench, tracks[0], bench.constants.window(group.band, "middle"))[1].half_width,
    }


def test_one_term_changed_in_one_place_moves_every_figure(two_devices, monkeypatch):
    bench, (a, b) = two_devices
    before = half_widths(bench, a, b)
    assert before["pair"] == pytest.approx(before["all pairs"], rel=1e-12)
    repeat_terms = uncertainty.repeat_terms

    def with_more(*sides):
        variance, freed, known = repeat_terms(*sides)
        return variance + ADDED, freed, known

    monkeypatch.setattr(uncertainty, "repeat_terms", with_more)
    after = half_widths(bench, a, b)
    # A variance with infinitely many degrees of freedom was added, so no interval can get narrower than its share.
    for name, half in after.items():
        assert half > before[name] + 1, name
        assert half > 1.959 * ADDED**0.5, name

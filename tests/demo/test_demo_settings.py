"""What settings bring on the demo's Cupola, compared by the project itself."""

import pytest

from builder.bench.bench import load_bench
from builder.pairs.settings_pairs import settings_pairs
from catalog.visibility import public_copy


@pytest.fixture(scope="module")
def figures(demo_file, demo_instant):
    bench = load_bench(public_copy(demo_file, as_of=demo_instant))
    return settings_pairs(bench, "tessarik-cupola")


def between(figures, one, other):
    return [figure for figure in figures if (figure.a.settings, figure.b.settings) == (one, other)]


def test_both_links_bring_more_than_either_alone_at_every_spot(figures):
    compared = between(figures, "links-on", "links-off")
    assert sorted(figure.spot for figure in compared) == ["S2", "S2", "S4", "S4", "S6", "S6"]
    assert all(figure.verdict == "separated" and figure.difference > 0 for figure in compared)
    assert all("less with one link at a time" in figure.sentence for figure in compared)


def test_low_power_costs_behind_walls_while_in_the_same_room_two_days_cannot_tell_it(figures):
    one_link = [figure for figure in between(figures, "", "low-power") if figure.group.band == "5"]
    assert {figure.spot: figure.verdict for figure in one_link} == {
        "S2": "not-separated",
        "S4": "separated",
        "S6": "separated",
    }
    # On one day, in one place, they can.
    assert {figure.verdict for figure in between(figures, "links-off", "low-power")} == {"separated"}


def test_blank_and_both_links_are_the_same_within_what_two_days_can_tell(figures):
    both = between(figures, "", "links-on")
    assert {figure.spot: figure.verdict for figure in both} == dict.fromkeys(("S2", "S4", "S6"), "not-separated")

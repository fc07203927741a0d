"""The search finds nearly the best: held against every plan of small lattices."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from builder.planning import searching
from builder.planning.costs import costs_of
from builder.planning.questions import Question, ground_of
from builder.planning.searching import ASTRAY, Search, Wish
from tests.builder.planning.simulated import Nature, simulated_house

NATURES = [
    Nature(day=0.03, repeats=0.016, placement=1.0, kit=1.0),
    Nature(day=0.012, repeats=0.12, placement=0.3, kit=0.5),
    Nature(day=0.02, repeats=0.05, placement=0.6, kit=0.5),
]
COSTS = costs_of([], {})


def lattice_of(nature, spots, days, *, both=False, seed=3):
    """Some spots, over their range."""
    house = simulated_house(np.random.default_rng(seed), nature)
    lattice = ground_of(house.bench(), Question("d0", against="d1", days=days, both=both)).lattice
    taken = np.array(spots)
    forecast = lattice.device.forecast

    def fewer(side):
        of_side = side.forecast
        return replace(
            side,
            forecast=replace(
                of_side,
                values=of_side.values[taken],
                spread=of_side.spread[taken],
                spread_df=of_side.spread_df[taken],
            ),
        )

    assert forecast is not None
    return replace(
        lattice,
        spots=tuple(lattice.spots[i] for i in taken),
        low=max(lattice.low, lattice.spots[taken[0]].loss_db),
        high=min(lattice.high, lattice.spots[taken[-1]].loss_db),
        device=fewer(lattice.device),
        other=fewer(lattice.other),
    )


def best_of_all(lattice, plans, wish):
    """The least half-width of all plans that fit into the minutes and keep to the range."""
    plans = plans[COSTS.minutes(plans, spots=len(lattice.spots), both=lattice.both) <= wish.minutes]
    expected = lattice.expected(plans)
    most = max(float(lattice.expected(np.full((1, lattice.size), 3)).astray[0]), 0)
    able = expected.astray <= np.maximum(ASTRAY * expected.half, most * (1 + 1e-9))
    return float(expected.half[able].min())


@pytest.mark.parametrize("nature", NATURES, ids=["days", "repeats", "all alike"])
@pytest.mark.parametrize("hours", [2, 3, 5])
def test_of_twelve_actions_within_two_percent(nature, hours):
    """Three spots on two days, each left out, measured three times, or with three repeats more: every set of actions."""
    lattice = lattice_of(nature, (1, 3, 4), 2)
    wish = Wish(None, 60 * hours, 3)
    every = np.array(list(product((0, 3, 6), repeat=6)))
    chosen = Search(lattice, COSTS, wish).best()
    assert chosen.minutes <= wish.minutes
    assert chosen.half <= 1.02 * best_of_all(lattice, every, wish)


@pytest.mark.parametrize("nature", NATURES, ids=["days", "repeats", "all alike"])
@pytest.mark.parametrize("minutes", [150, 240])
def test_steps_come_within_five_percent_of_a_lattice(nature, minutes, monkeypatch):
    """Four spots, two days, 0, 2, 3, 4 or 6 repeats, all 390,625 plans; the search by starts, steps and exchanges alone."""
    monkeypatch.setattr(searching, "EXHAUSTIVE_UP_TO", 0)
    lattice = lattice_of(nature, (0, 1, 3, 4), 2)
    wish = Wish(None, minutes, 2)
    every = np.array(list(product((0, 2, 3, 4, 6), repeat=8)))
    first, second = every[:, :4] @ 7 ** np.arange(4), every[:, 4:] @ 7 ** np.arange(4)
    every = every[first >= second]  # no day differs from another
    chosen = Search(lattice, COSTS, wish).best()
    assert chosen.half <= 1.05 * best_of_all(lattice, every, wish)

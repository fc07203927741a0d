"""Which runs are alike: check values of the method, cases worked by hand, and every order of the machines."""

from ast import literal_eval
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from builder.under_load import arrangements
from builder.under_load.arrangements import Arrangement, Place, Seat, likeness, sections

FILM = ("stream", (("rate_mbit_s", "8"), ("segment_s", "2")))
CALL = ("voice", (("packet_ms", "20"),))


def at(loss):
    return Place(None, loss)


def seat(name, loss=48.0, **changed):
    values = {
        "client": name,
        "name": f"the {name}",
        "series": name,
        "build": ("be", "2", "160"),
        "band": "5",
        "width_mhz": 80,
        "settings": (),
        "place": at(loss),
        "recipes": (FILM,),
        "roles": ("film",),
    }
    return Seat(**(values | changed))


def run(*seats, planned_s=900.0):
    return Arrangement(seats, planned_s)


@pytest.fixture
def checks(published):
    """Source: tests/published/SOURCES.md, method2_arrange.csv."""
    return {row["what"]: row for row in published("method2_arrange")}


def test_sections_as_published(checks):
    order = checks["sections"]["inputs"].removesuffix(" in this order").split(", ")
    runs = {name: run(seat("laptop", float(loss))) for name, loss in (one.split() for one in order)}
    found = sections(runs)
    wanted = [section.split() for section in checks["sections"]["expected"].split("|")]
    assert [s for s in found if len(s) > 1] == wanted
    assert [s for s in found if len(s) == 1] == [[checks["alone"]["expected"]]]


def test_two_equal_seats_in_either_order(checks):
    row = checks["two equal seats in either order"]
    runs = {}
    for one in row["inputs"].split(", "):
        name, *losses = one.split()
        runs[name] = run(*(seat("laptop", float(loss), client=f"laptop-{i}") for i, loss in enumerate(losses)))
    together, alone = literal_eval(row["expected"])
    assert sections(runs) == [*together, alone]


def test_machines_are_paired_in_whatever_order_they_are_given():
    seats = (seat("laptop", 48), seat("tablet", 60, recipes=(CALL,)), seat("tower", 75, band="6"))
    for order in permutations(seats):
        assert likeness(run(*seats), run(*order)).verdict == "alike"


def test_one_replaced_machine_leaves_the_others_comparable():
    old = run(seat("laptop"), seat("tablet", 60))
    new = run(seat("laptop"), seat("slate", 61))
    result = likeness(old, new)
    assert (result.verdict, result.pairs, result.odd) == ("replaced", ((0, 0),), (1, 1))
    assert result.difference == "with the slate in the place of the tablet"
    # Another generation, streams or width in the band, another place, or a second one replaced: not comparable.
    other = run(seat("laptop"), seat("slate", 61, build=("ax", "2", "160")))
    assert likeness(old, other).difference == "film was played by the tablet here and by the slate there"
    assert likeness(old, run(seat("laptop"), seat("slate", 75))).verdict == "differs"
    assert likeness(old, run(seat("notebook"), seat("slate", 61))).verdict == "differs"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"recipes": (FILM, CALL), "roles": ("film", "call")}, "the laptop played film here and film and call there"),
        ({"band": "2.4"}, "the laptop was on 5 GHz here and on 2.4 GHz there"),
        ({"width_mhz": 160}, "the laptop used 80 MHz here and 160 MHz there"),
        (
            {"settings": (("multi_link", "off"),)},
            "the laptop was set to what the bench always has here and to multi_link off there",
        ),
        ({"place": at(75.0)}, "the laptop stood at 48 dB here and at 75 dB there"),
        ({"place": at(None)}, "the laptop stood at 48 dB here and at a place that nobody wrote down there"),
    ],
)
def test_the_first_difference_is_named(change, words):
    one = seat("laptop")
    result = likeness(run(one), run(replace(one, **change)))
    assert (result.verdict, result.difference) == ("differs", words)


def test_numbers_of_machines_and_times_are_named_first():
    result = likeness(run(seat("laptop")), run(seat("laptop"), seat("tablet")))
    assert result.difference == "1 machine played here and 2 machines there"
    assert likeness(run(seat("laptop")), run(seat("laptop"), planned_s=990.0)).verdict == "alike"
    result = likeness(run(seat("laptop")), run(seat("laptop"), planned_s=1800.0))
    assert result.difference == "it was to last 15:00 here and 30:00 there"


def test_a_width_left_out_is_like_any_in_a_pair_and_a_width_of_its_own_in_sections():
    wide, narrow, left_out = (run(seat("laptop", width_mhz=width)) for width in (160, 80, None))
    assert likeness(wide, left_out).verdict == likeness(left_out, narrow).verdict == "alike"
    assert likeness(wide, narrow).verdict == "differs"
    assert sections({"a": left_out, "b": wide, "c": narrow, "d": left_out}) == [["a", "d"], ["b"], ["c"]]


def test_a_spot_without_readings_is_like_itself_alone():
    spot = ("house", "S4", "2024-01-01")
    unread, read = Place(spot, None), Place(spot, 70.0)
    assert unread.like(unread, within_db=3)
    assert unread.like(read, within_db=3)
    assert not unread.like(Place(("house", "S4", "2025-01-01"), None), within_db=3)
    assert not unread.like(Place(("house", "S5", "2024-01-01"), None), within_db=3)
    assert not at(None).like(at(None), within_db=3)
    assert not at(70.0).like(unread, within_db=3)


def test_runs_that_say_the_same_are_compared_once(monkeypatch):
    # 400 devices with three runs at each of two places; one of them wrote down no place.
    calls = []
    monkeypatch.setattr(arrangements, "likeness", lambda *a, **k: calls.append(a) or likeness(*a, **k))
    runs = {str(n): run(seat("laptop", 48.0 if n % 2 else 75.0)) for n in range(1200)} | {
        "lost": run(seat("laptop", None))
    }
    assert [len(section) for section in sections(runs)] == [600, 600, 1]
    assert len(calls) < 10


def test_a_short_cut_through_the_anchor_makes_the_sections_of_the_rule():
    # The rule to the letter, every run against every other one of a section, on runs at random.
    rng = np.random.default_rng(5)

    def place():
        kind = rng.integers(12)
        if kind == 0:
            return Place(("house", "S4", "2024"), None)
        return Place(("house", "S4", "2024") if kind == 1 else None, float(np.round(48 + rng.normal(0, 1.5), 1)))

    def machine(name, client):
        return seat(name, client=client, place=place(), width_mhz=[80, 80, 80, None][rng.integers(4)])

    for _ in range(20):
        runs = {
            str(n): run(
                *(machine(name, f"{name}-{i}") for i, name in enumerate(("laptop", "laptop", "tablet"))),
                planned_s=float(rng.choice([900, 850, 960, 1000])),
            )
            for n in range(40)
        }
        made = []
        for mix, one in runs.items():
            for group in made:
                others = [runs[other] for other in group]
                if (
                    sorted((s.series, s.width_mhz is None) for s in one.seats)
                    == sorted((s.series, s.width_mhz is None) for s in others[0].seats)
                    and likeness(others[0], one, within_db=1.5).verdict == "alike"
                    and all(likeness(other, one).verdict == "alike" for other in others)
                ):
                    group.append(mix)
                    break
            else:
                made.append([mix])
        assert sections(runs) == made


def test_hundreds_of_different_places_are_not_compared_two_by_two():
    runs = {str(n): run(seat("laptop", 47 + n / 200)) for n in range(400)}
    likeness.cache_clear()
    assert len(sections(runs)) == 2
    assert likeness.cache_info().misses < 3 * len(runs)

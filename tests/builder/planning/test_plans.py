"""Answers to questions: what is planned, what it is said to show, and what is refused in words."""

from dataclasses import replace

import numpy as np
import pytest

from builder.bench.bench import subject_named
from builder.bench.tracks import GroupFilter
from builder.bench.uncertainty import TERMS
from builder.pairs.compare import compare
from builder.planning.afterwards import COOLING_MINUTES, Recorded
from builder.planning.costs import costs_of
from builder.planning.lattices import ENDLESS
from builder.planning.plans import plan
from builder.planning.questions import Goal, Question, ground_of, read_goal
from catalog.errors import InputRefused, UnknownName
from catalog.records import Heat, Radio, Station
from tests.builder.planning.simulated import LOSSES, Nature, _record, carry_out, simulated_house

COSTS = costs_of([], {})
NATURE = Nature(day=0.03, repeats=0.02, placement=1.0, kit=1.0)
PAIR = {"device": "d0", "against": "d1"}


@pytest.fixture(scope="module")
def house():
    return simulated_house(np.random.default_rng(8), NATURE)


@pytest.fixture(scope="module")
def bench(house):
    return house.bench()


def planned(bench, **question):
    return plan(bench, Question(**(PAIR | question)), COSTS)


def test_what_is_expected_is_what_compare_finds_of_such_cells():
    """Cells that are measured exactly as expected: the same half-width to the last digits, by the other way."""
    house = simulated_house(np.random.default_rng(2), NATURE)
    made = planned(house.bench(), hours=3.0)
    lattice, repeats = made.lattice, made.repeats.reshape(2, -1)
    forecast = lattice.device.forecast
    for day, of_day in enumerate(repeats):
        for spot, often in enumerate(of_day):
            # Values around the expected one whose standard deviation is the expected one, too.
            spread = forecast.values[spot] * forecast.spread[spot]
            around = np.linspace(-1, 1, often) if often else np.zeros(0)
            around = around / around.std(ddof=1) * spread if often else around
            for value in forecast.values[spot] + around:
                house.write_down("d0", spot, float(value), f"new {day}")
    after = house.bench()
    (figure,) = compare(after, subject_named(after, "d0"), subject_named(after, "d1"), match="attenuation")
    expected = lattice.expected(made.repeats[np.newaxis])
    assert figure.range == pytest.approx((lattice.low, lattice.high))
    assert figure.half_width == pytest.approx(float(expected.half[0]), rel=1e-9)
    assert figure.effective_df == pytest.approx(float(expected.df[0]), rel=1e-6)


def test_both_devices_measured_as_expected_are_what_compare_finds():
    house = simulated_house(np.random.default_rng(4), NATURE)
    made = planned(house.bench(), both=True, hours=5.0)
    spots = {spot.name: number for number, spot in enumerate(made.lattice.spots)}
    sides = {"d0": made.lattice.device.forecast, "d1": made.lattice.other.forecast}
    counts = {}
    for row in made.rows:
        counts[row.device, row.spot, row.day] = counts.get((row.device, row.spot, row.day), 0) + 1
    for row in made.rows:
        forecast, spot = sides[row.device], spots[row.spot]
        n = counts[row.device, row.spot, row.day]
        around = np.linspace(-1, 1, n)
        around = around / around.std(ddof=1) * forecast.values[spot] * forecast.spread[spot]
        house.write_down(row.device, spot, float(forecast.values[spot] + around[row.repeat - 1]), f"new {row.day}")
    after = house.bench()
    (figure,) = compare(after, subject_named(after, "d0"), subject_named(after, "d1"), match="attenuation")
    assert figure.half_width == pytest.approx(float(made.lattice.expected(made.repeats[np.newaxis]).half[0]), rel=1e-9)


def test_the_range_is_covered_whatever_is_saved(bench):
    for hours in (2.0, 2.5, 4.0):
        made = planned(bench, hours=hours)
        assert made.minutes <= 60 * hours
        assert (made.lattice.low, made.lattice.high) == pytest.approx(
            (bench.cells[0].attenuation_db, max(c.attenuation_db for c in bench.cells))
        )
        assert made.lattice.covers(made.repeats[np.newaxis]).all()
        assert (made.repeats[made.repeats > 0] >= 3).all()
        used = (made.repeats.reshape(2, -1) > 0).any(axis=0)
        losses = [spot.loss_db for spot, there in zip(made.lattice.spots, used, strict=True) if there]
        assert max(np.diff(losses)) <= 12
    ends = np.zeros((1, made.lattice.size), dtype=int)
    ends[0, [0, 5]] = 3
    assert not made.lattice.covers(ends).any()  # 29 dB apart
    two = planned(bench, hours=2.0, least=2)
    assert (two.repeats[two.repeats > 0] >= 2).all()


def test_a_goal_is_reached_with_the_least_minutes(bench):
    best = planned(bench)
    goal = 1.05 * best.promise.half
    made = planned(bench, goal=Goal(goal))
    assert made.reached
    assert made.promise.half <= goal
    assert made.minutes < best.minutes
    assert made.sentences[0].startswith(f"{(made.repeats.reshape(2, -1) > 0).any(axis=0).sum()} spots, ")
    for further in (1.01, 1.1, 1.2, 1.3, 1.4):
        other = planned(bench, goal=Goal(further * best.promise.half))
        assert other.reached, further
        assert other.promise.half <= further * best.promise.half
    percent = planned(bench, goal=Goal(100 * goal / made.ground.mean, percent=True))
    assert percent.goal == pytest.approx(goal)
    assert percent.minutes == made.minutes


def test_what_no_repeats_can_show_is_said_with_its_cure(bench):
    made = planned(bench, goal=Goal(5.0))
    limit = made.lattice.expected(np.full((1, made.lattice.size), ENDLESS))
    assert 1.96 * float(limit.u[0]) > 5.0
    text = made.to_json()["sentence"]
    assert not made.reached
    assert "No number of repeats shows 5.0 Mbit/s" in text
    assert "A third session brings it to" in text
    assert "is the day-to-day scatter: another day, or both devices on the same day (--both)" in text


def test_between_the_limit_and_thirty_repeats_it_is_not_reached():
    """Three repeats by a few degrees of freedom: t is what keeps it above, and this is said."""
    house = simulated_house(
        np.random.default_rng(12), replace(NATURE, day=0.004, placement=0.05, kit=0.05, repeats=0.15)
    )
    bench = house.bench()
    made = planned(bench, days=1)
    limit = made.lattice.expected(np.full((1, made.lattice.size), ENDLESS))
    thirty = made.lattice.expected(np.full((1, made.lattice.size), 30))
    between = (1.96 * float(limit.u[0]) + float(thirty.half[0])) / 2
    assert 1.96 * float(limit.u[0]) < between < float(thirty.half[0])
    text = planned(bench, days=1, goal=Goal(between)).to_json()["sentence"]
    assert "is not reached with up to 30 repeats a cell; best" in text
    assert "A second session brings it to" in text


def test_hours_that_are_too_few_are_named(bench):
    goal = 1.02 * planned(bench).promise.half
    text = planned(bench, hours=2.1, goal=Goal(goal)).to_json()["sentence"]
    assert "does not fit into 2 h 6 min; best is" in text
    with pytest.raises(
        InputRefused, match=r"Not even the fewest cells that cover the range fit into 30 min: they take"
    ):
        planned(bench, hours=0.5)


def test_more_minutes_that_hardly_help_are_not_planned(bench):
    made = planned(bench, hours=40.0)
    assert made.minutes < 600
    assert "30 more minutes would take off less than 1 %" in made.to_json()["sentence"]


def test_the_shares_are_of_all_terms_and_add_up(bench):
    made = planned(bench, hours=3.0)
    document = made.to_json()
    assert set(document["terms"]) == set(TERMS) == {"repeats", "session", "placement", "spot", "kit"}
    assert sum(document["terms"].values()) == pytest.approx(1.0)
    low, high = document["likely"]
    assert low <= document["half_width"] <= high
    assert [row["order"] for row in document["rows"]] == list(range(1, len(made.rows) + 1))
    assert max(row["minutes"] for row in document["rows"]) <= made.minutes


def test_two_devices_take_turns_and_each_pass_is_a_visit(bench):
    made = planned(bench, both=True, hours=5.0)
    passes = [(row.day, row.device) for row in made.rows]
    turns = [one for before, one in zip([None, *passes], passes, strict=False) if one != before]
    days = {day for day, _ in turns}
    assert turns == [(day, device) for day in sorted(days) for device in ("d0", "d1", "d0")]
    # Walks, runs, swaps and mornings add up to the plan's minutes.
    assert sum(max(row.minutes for row in made.rows if row.day == day) for day in days) == pytest.approx(made.minutes)
    first = [row for row in made.rows if row.day == 1 and row.device == "d1"]
    half = [row.spot for row in first]
    assert half.count(half[0]) >= 2
    assert len({row.log for row in made.rows}) == len(made.rows)


def test_realised_both_is_near_the_promise():
    house = simulated_house(np.random.default_rng(21), NATURE)
    made = planned(house.bench(), both=True, hours=4.0)
    carry_out(house, made)
    bench = house.bench()
    (figure,) = compare(bench, subject_named(bench, "d0"), subject_named(bench, "d1"), match="attenuation")
    assert 0.8 <= figure.half_width / made.promise.half <= 1.25


def test_mixes_and_heat_follow_with_a_break(bench):
    station = _record(
        Station, mix="d1-evening-1", workload="evening", workload_version=1, role="film", at_utc="2025-05-12T08:00:00Z",
        device="d1", client="wrenlet-u2", house="g", band="5", spot="S2", planned_s=600.0,
    )  # fmt: skip
    heat = _record(Heat, device="d1", face="lid", material="plastic", load="all radios", minutes=40.0, reading_c=50.0)
    recorded = Recorded([station, replace(station, role="call")], [heat])
    made = plan(bench, Question(**PAIR, hours=6.0), COSTS, recorded)
    behind = [row for row in made.rows if row.table != "runs"]
    assert [(row.table, row.order) for row in behind] == [
        (table, len(made.rows) - 3 + number) for number, table in enumerate(("stations", "stations", "heat"), start=1)
    ]
    assert dict(behind[0].values)["mix"] == "d0-evening-1"
    assert behind[2].pause == COOLING_MINUTES
    assert behind[2].minutes == pytest.approx(behind[1].minutes + COOLING_MINUTES + 40)
    assert "Then the mix evening and heat under the load" in made.to_json()["sentence"]
    short = plan(bench, Question(**PAIR, hours=made.minutes / 60 - 0.2), COSTS, recorded)
    assert "No time is left for" in short.to_json()["sentence"]


@pytest.mark.parametrize(
    "question, words",
    [
        ({"window": "fast"}, "There is no window 'fast'"),
        ({"window": "far"}, "does not cover the far window, 75–90 dB"),
        ({"hours": 0.0}, "0 hours are no time"),
        ({"hours": 10_000.0}, "10000 hours are no time"),
        ({"hours": float("nan")}, "nan hours are no time"),
        ({"days": 0}, "0 is no number of days"),
        ({"least": 1}, "measured once shows no scatter"),
        ({"against": "d0"}, "not compared with itself"),
        ({"against": None, "both": True}, "name it with --against"),
        ({"against": None, "goal": Goal(5, percent=True)}, "Percent are of the other device's mean"),
        ({"only": GroupFilter(band="6")}, "There are no results of d1 under these conditions"),
    ],
)
def test_a_question_that_has_no_answer_is_refused_in_words(bench, question, words):
    with pytest.raises(InputRefused, match=words):
        planned(bench, **question)


def test_unknown_names_come_with_near_ones(bench):
    with pytest.raises(UnknownName, match="Nearest: d1"):
        planned(bench, device="dd1")
    with pytest.raises(UnknownName, match="There is no device 'nobody'"):
        planned(bench, against="nobody")


def test_places_that_show_no_line_are_refused(bench):
    with pytest.raises(InputRefused, match="holds no results yet"):
        planned(replace(bench, cells=[], cells_of={}))
    one = {key: epochs for key, epochs in bench.epochs.items() if key[1] == "S3"}
    with pytest.raises(InputRefused, match=r"has 1 spot in 5 GHz .* one spot shows no line"):
        planned(replace(bench, epochs=one))
    apart = {
        key: [replace(e, attenuation_db=e.attenuation_db + 60) for e in epochs] for key, epochs in bench.epochs.items()
    }
    with pytest.raises(InputRefused, match="has 0 spots"):
        planned(replace(bench, epochs=apart))
    near = {key: epochs for key, epochs in bench.epochs.items() if key[1] in ("S2", "S3")}
    with pytest.raises(InputRefused, match="no shared range"):
        planned(replace(bench, epochs=near))


def test_a_device_without_the_radio_and_another_without_a_cell_are_refused(bench):
    plain = bench.devices["d0"]
    other_band = replace(plain, radios=(_record(Radio, device_id="d0", band="2.4", streams=2, max_width_mhz=40),))
    with pytest.raises(InputRefused, match="d0 has no radio for what was tested"):
        planned(replace(bench, devices={**bench.devices, "d0": other_band}))
    with pytest.raises(InputRefused, match=r"d0 has no results at a known loss.*With --both"):
        planned(bench, device="d1", against="d0")
    assert planned(bench, device="d1", against="d0", both=True, hours=5.0).rows


@pytest.mark.parametrize(
    "text, goal", [("40", Goal(40)), ("5%", Goal(5, True)), (" 2,5 % ", Goal(2.5, True)), ("40 Mbit/s", Goal(40))]
)
def test_differences_are_read(text, goal):
    assert read_goal(text) == goal


@pytest.mark.parametrize("text", ["", "0", "-5", "5%%", "abc", "100%", "nan", "inf", "1e9", "5 dB", "٤٠%%"])
def test_what_is_no_difference_is_refused(text):
    with pytest.raises(InputRefused):
        read_goal(text)


def test_a_lone_device_is_planned_by_its_own_interval(bench):
    made = planned(bench, device="d2", against=None, hours=3.0)
    assert made.lattice.other is None
    assert "the mean would be known to ±" in made.to_json()["sentence"]
    assert ground_of(bench, Question("d2")).mean > 0
    assert len(LOSSES) >= made.sentences[0].count("spot")

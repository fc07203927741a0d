"""Day-to-day spread and placement, learnt from the reference device."""

import csv
import math
from pathlib import Path

import pytest

from builder.pairs.compare import compare
from tests.builder.conftest import published

LEARN = {row["what"]: row for row in published("method2_learn")}
SPOTS = {"S1": 50.0, "S2": 56.0, "S3": 62.0, "S4": 68.0}


def learn_input():
    path = Path(__file__).parents[2] / "published" / "method2_learn_input.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def add_reference(lab, rows, **fields):
    """Sessions of the reference device as (session, spot, loss, its runs)."""
    lab.houses["house-a"] = "Reference"
    for session, spot, loss, values in rows:
        known = {
            "spot": spot,
            "spot_since": "2025-01-01",
            "attenuation_typed": False,
            "readings": 5,
            "readings_sd_db": 1.0,
        }
        lab.add("Reference", [(loss, values)], session=session, **(known | fields))


def published_rows():
    return [(r["session"], r["spot"], float(r["loss_db"]), [float(r["run1"]), float(r["run2"])]) for r in learn_input()]


def even_rows(factors, *, spots=SPOTS):
    """Sessions in which every spot moves by the same factor and nothing else does."""
    return [
        (f"d{number}", spot, loss, [factor * (1000 - 10 * loss)] * 2)
        for number, factor in enumerate(factors)
        for spot, loss in spots.items()
    ]


def test_days_and_placement_are_learnt_as_published(lab):
    # Source: tests/published/method2_learn.csv, computed for the method apart from this code.
    add_reference(lab, published_rows())
    scatter = lab.bench().scatter
    day, placement = scatter.day("house-a"), scatter.placement("house-a")
    assert (day.source, placement.source) == ("measured", "measured")
    assert day.fraction == pytest.approx(float(LEARN["c"]["expected"]), abs=1e-9)
    assert day.df == pytest.approx(float(LEARN["nu of c"]["expected"]), abs=1e-9)
    assert placement.sigma_db == pytest.approx(float(LEARN["placement, dB"]["expected"]), abs=1e-9)
    assert placement.df == 20
    assert placement.sessions == 5


def test_four_sessions_or_two_spots_teach_nothing_and_the_declared_values_are_taken(lab):
    lab.declared |= {"session_spread": 0.05, "placement_sigma_db": 0.7}
    few_days = [row for row in published_rows() if row[0] != "d5"]
    few_spots = [row for row in published_rows() if row[1] in ("S1", "S2")]
    for rows in (few_days, few_spots):
        lab.runs.clear()
        add_reference(lab, rows)
        scatter = lab.bench().scatter
        assert (scatter.day("house-a").fraction, scatter.day("house-a").source) == (0.05, "declared")
        assert (scatter.placement("house-a").sigma_db, scatter.placement("house-a").source) == (0.7, "declared")
    lab.declared |= {"session_spread": None, "placement_sigma_db": None}
    scatter = lab.bench().scatter
    assert (scatter.day("house-a").fraction, scatter.day("house-a").source) == (0.03, "assumed")
    assert (scatter.placement("house-a").sigma_db, scatter.placement("house-a").source) == (1.0, "assumed")


def test_placement_wants_fifteen_degrees_of_freedom_where_days_do_not(lab):
    # Five sessions of four spots: 4 x 3 = 12.
    add_reference(lab, [row for row in published_rows() if row[1] in ("S1", "S2", "S3", "S4")])
    scatter = lab.bench().scatter
    assert scatter.day("house-a").source == "measured"
    assert scatter.placement("house-a").source == "declared"


def test_a_spot_that_one_session_lacks_is_left_out(lab):
    add_reference(lab, published_rows())
    whole = lab.bench().scatter.day("house-a")
    add_reference(lab, [("d1", "S7", 80.0, [300.0, 310.0]), ("d2", "S7", 80.0, [500.0, 510.0])])
    assert lab.bench().scatter.day("house-a") == whole


def test_a_session_of_two_spots_is_left_out_rather_than_all_others(lab):
    add_reference(lab, published_rows())
    whole = lab.bench().scatter.day("house-a")
    add_reference(lab, [("d6", "S1", 40.0, [500.0, 510.0]), ("d6", "S2", 50.0, [500.0, 510.0])])
    assert lab.bench().scatter.day("house-a") == whole


def test_days_that_hardly_differ_count_as_one_percent(lab):
    add_reference(lab, even_rows([1.0, 1.001, 0.999, 1.0, 1.0, 1.001]))
    day = lab.bench().scatter.day("house-a")
    assert (day.fraction, day.df, day.source) == (0.01, math.inf, "measured")


def test_placement_that_repeats_explain_is_the_least_there_is(lab):
    rows = [
        (session, spot, loss, [values[0] - 60, values[0] + 60])
        for session, spot, loss, values in even_rows([1.0, 1.02, 0.98, 1.01, 0.99, 1.0])
    ]
    add_reference(lab, rows)
    placement = lab.bench().scatter.placement("house-a")
    assert (placement.sigma_db, placement.source, placement.df) == (0.3, "measured", 15)


def test_single_runs_show_no_placement_but_with_a_spread_to_take(lab):
    # One run a spot says nothing of its repeats, so what a spot varies may be those; days are shared by all spots.
    lab.declared["placement_sigma_db"] = 0.7
    add_reference(lab, [(*row, values[:1]) for *row, values in published_rows()])
    scatter = lab.bench().scatter
    assert scatter.day("house-a").source == "measured"
    assert (scatter.placement("house-a").sigma_db, scatter.placement("house-a").source) == (0.7, "declared")
    lab.declared["house_spread_percent"] = 1.0
    assert lab.bench().scatter.placement("house-a").source == "measured"


def test_another_device_teaches_nothing(lab):
    add_reference(lab, published_rows())
    before = lab.bench().scatter
    for session, spot, loss, values in even_rows([1.0, 1.3, 0.7, 1.2, 0.8]):
        lab.add("Other", [(loss, values)], session=session, spot=spot)
    assert lab.bench().scatter == before


def test_firmwares_and_clients_are_chains_of_their_own(lab):
    # Three sessions with each of two firmwares show no five sessions of one thing.
    rows = published_rows()
    for number, firmware in (("12", "1.0"), ("345", "2.0")):
        add_reference(lab, [row for row in rows if row[0][1] in number], firmware=firmware)
    assert lab.bench().scatter.day("house-a").source == "declared"


@pytest.fixture
def at_one_spot(lab):
    """Two devices at one spot, both lines falling as the published case has them."""

    def figure(*, sessions=("s1", "s1"), moved=True, same_device=False):
        lab.runs.clear()
        lab.declared |= {"session_spread": 0.03, "placement_sigma_db": 1.0}
        place = {
            "spot": "S1",
            "spot_since": "2025-01-01",
            "attenuation_typed": False,
            "readings": 5,
            "readings_sd_db": 1.0,
        }
        names = ("A", "A") if same_device else ("A", "B")
        firmware = ("1.0", "2.0") if same_device else ("1.0", "1.0")
        for number, (name, version, session, value, slope) in enumerate(
            zip(names, firmware, sessions, (700.0, 600.0), (-20.0, -18.0), strict=True)
        ):
            common = {"session": session, "firmware": version}
            if moved or not number:  # the places that only show the slope; walked to before the spot
                lab.add(name, [(66, [value + 6 * slope])], at_utc=f"2025-05-12T0{number}:00:00Z", **common)
            lab.add(
                name, [(60, [value - 10, value, value + 10])], at_utc=f"2025-05-12T0{number}:30:00Z", **place, **common
            )
            if not moved and number:
                lab.add(name, [(66, [value + 6 * slope])], at_utc=f"2025-05-12T0{number}:59:00Z", **common)
        a, b = (f"{name}@{version}" for name, version in zip(names, firmware, strict=True))
        bench, (one, other) = lab.subjects(a, b)
        return next(f for f in compare(bench, one, other, match="spot") if f.spot == "S1")

    return figure


SPOT = {row["what"]: row for row in published("method2_spot")}


@pytest.mark.parametrize(
    ("name", "case"),
    [
        ("two sessions", {"sessions": ("s1", "s2")}),
        ("one session, moved", {}),
        ("one session, untouched", {"same_device": True, "moved": False}),
    ],
)
def test_a_spot_match_is_as_published(at_one_spot, name, case):
    # Source: tests/published/method2_spot.csv, computed for the method apart from this code.
    figure = at_one_spot(**case)
    assert figure.standard_uncertainty == pytest.approx(float(SPOT[f"u, {name}"]["expected"]), abs=1e-9)
    assert figure.half_width == pytest.approx(float(SPOT[f"half-width, {name}"]["expected"]), abs=1e-6)


def test_the_slope_at_a_spot_without_a_line_is_the_reference_devices_else_practice(lab):
    lab.declared |= {"placement_sigma_db": 1.0}
    place = {"spot": "S1", "spot_since": "2025-01-01"}
    for name, value in (("A", 700.0), ("B", 600.0)):
        lab.add(name, [(60, [value - 10, value, value + 10])], **place)
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="spot")
    # By hand: 0.05 of 700 and of 600 a dB, one visit each, and 3 repeats with s = 10.
    assert figure.standard_uncertainty == pytest.approx(math.sqrt(35**2 + 30**2 + 200 / 3))
    assert "slope_per_db" in figure.assumed
    lab.houses["house-a"] = "R"
    lab.add("R", [(60, [500.0, 500.0]), (70, [400.0, 400.0])], session="another day")
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="spot")
    # By hand: the reference falls by 10 a dB, 2 % of 500 and 2.5 % of 400; the median is 2.25 %.
    assert figure.standard_uncertainty == pytest.approx(math.sqrt((0.0225 * 700) ** 2 + (0.0225 * 600) ** 2 + 200 / 3))
    assert "slope_per_db" not in figure.assumed


def test_repeats_of_one_visit_do_not_average_placement_and_two_visits_do(lab):
    lab.declared |= {"placement_sigma_db": 1.0}

    def half_width(order):
        lab.runs.clear()
        for number, loss in enumerate(order):
            for name, value in (("A", 700.0), ("B", 600.0)):
                lab.add(
                    name,
                    [(loss, [value - 20 * (loss - 60)])],
                    client=f"with {name}",
                    at_utc=f"2025-05-12T10:{number:02}:00Z",
                    spot=f"S{loss}",
                    spot_since="2025-01-01",
                    readings=5,
                    readings_sd_db=0.0,
                    attenuation_typed=False,
                )
        bench, (a, b) = lab.subjects("A", "B")
        return compare(bench, a, b, match="spot")[0].standard_uncertainty

    # By hand: slopes of 20 a dB, equal repeats; one visit each, or two of half the runs each.
    assert half_width([60, 60, 66, 66]) == pytest.approx(math.sqrt(2 * 20**2))
    assert half_width([60, 66, 60, 66]) == pytest.approx(math.sqrt(2 * 20**2 / 2))


def test_readings_of_a_spot_say_how_well_it_is_known(lab):
    lab.declared = {"placement_sigma_db": 1.0, "calibration_sigma_db": 0.0, "session_spread": 0.0}
    place = {"spot_since": "2025-01-01", "attenuation_typed": False}

    def of_spots(readings, sd):
        lab.runs.clear()
        for name, shift in (("A", 0.0), ("B", 100.0)):
            for loss in (60, 68):
                value = 900 + shift - 20 * (loss - 60)
                spot = place | {"spot": f"{name}{loss}", "readings": readings, "readings_sd_db": sd}
                lab.add(name, [(loss, [value, value])], **spot)
        bench, (a, b) = lab.subjects("A", "B")
        return compare(bench, a, b, match="attenuation")[0].standard_uncertainty ** 2 - 4 * (0.5 * 20) ** 2

    # By hand: four spots of weight 1/2 and slope 20; their visits were taken off.
    assert of_spots(5, 2.0) == pytest.approx(4 * (0.5 * 20) ** 2 * 2.0**2 / 5)
    assert of_spots(3, 2.0) == pytest.approx(4 * (0.5 * 20) ** 2 * 1.0 / 3)
    lab.declared["attenuation_sigma_db"] = 0.5
    assert of_spots(5, 2.0) == pytest.approx(4 * (0.5 * 20) ** 2 * 0.25)


def test_a_constant_is_assumed_however_little_it_costs(lab):
    # Lines that fall by 0.1 Mbit/s a dB: placement costs less than 1 Mbit/s, and is assumed all the same.
    lab.declared = {}
    for name, shift in (("A", 0), ("B", 20)):
        lab.add(name, [(loss, [value + shift, value + shift + 1]) for loss, value in ((50, 101), (60, 100))])
    bench, (a, b) = lab.subjects("A", "B")
    assert "placement_sigma_db" in compare(bench, a, b, match="attenuation")[0].assumed
    # On level lines it costs nothing, and is not.
    lab.runs.clear()
    for name, shift in (("A", 0), ("B", 20)):
        lab.add(name, [(loss, [100 + shift, 101 + shift]) for loss in (50, 60)])
    bench, (a, b) = lab.subjects("A", "B")
    assert "placement_sigma_db" not in compare(bench, a, b, match="attenuation")[0].assumed


def test_assumed_constants_are_named(lab):
    lab.declared = {}
    lab.add("A", [(50, [900, 910, 905]), (60, [700, 710, 705])], session="s1")
    lab.add("B", [(50, [800, 810, 805]), (60, [600, 610, 605])], session="s2")
    bench, (a, b) = lab.subjects("A", "B")
    figure = compare(bench, a, b, match="attenuation")[0]
    assert set(figure.assumed) == {"session_spread", "placement_sigma_db", "calibration_sigma_db"}

"""What makes a cell, and what it says of its runs."""

from dataclasses import replace

import pytest

from builder.bench.cells import natural, place_of, visits_of
from builder.pairs.compare import compare
from catalog.records import Whereabouts
from tests.builder.conftest import RUN


def only_cell(lab):
    (cell,) = lab.bench().cells
    return cell


def test_a_cell_is_limited_by_what_held_its_lowest_capped_repeat_back(lab):
    # By hand: 97 % of the lab's 930 is 902.1, of the client's 950 921.5. From the lower on nothing is sure.
    lab.ceiling("wrenlet-u2", 950.0)
    lab.labs["house-a"] = 930.0
    lab.add("A", [(50, [900, 910, 925])])
    cell = only_cell(lab)
    assert (cell.limit, cell.bound, cell.median_bound) == ("lab", True, True)
    assert (cell.n, cell.mean, cell.median) == (3, pytest.approx(2735 / 3), 910)


def test_a_median_is_a_bound_where_a_middle_repeat_is_one(lab):
    # By hand: 97 % of 930 is 902.1. Of four repeats the two in the middle count, of three the one.
    lab.ceiling("wrenlet-u2", 930.0)
    for repeats, expected in (
        ([890, 900, 905], False),
        ([890, 903, 905], True),
        ([880, 890, 900, 905], False),
        ([880, 890, 903, 905], True),
    ):
        lab.runs.clear()
        lab.add("A", [(50, repeats)])
        assert (only_cell(lab).bound, only_cell(lab).median_bound) == (True, expected)


@pytest.mark.parametrize(
    ("typed", "readings", "sd", "expected"),
    [
        (False, 6, 0.5, (6, 0.5)),
        (False, None, None, (1, None)),
        # A loss that was typed beside a spot is one reading, whatever the spot was read.
        (True, 6, 0.5, (1, None)),
        (True, None, None, (1, None)),
    ],
)
def test_readings_behind_a_loss(lab, typed, readings, sd, expected):
    lab.add(
        "A",
        [(60, 500)],
        spot="S1",
        spot_since="2025-01-01",
        attenuation_typed=typed,
        readings=readings,
        readings_sd_db=sd,
    )
    cell = only_cell(lab)
    assert (cell.readings, cell.readings_sd_db) == expected


def test_a_spot_with_another_loss_since_is_another_place():
    spot = replace(RUN, spot="S1", spot_since="2025-01-01")
    assert place_of(spot) == place_of(replace(spot, attenuation_db=60.0, device="B"))
    assert place_of(spot) != place_of(replace(spot, spot_since="2025-06-01"))
    assert place_of(spot) != place_of(replace(spot, house="house-b"))


def test_the_error_of_a_spot_cancels_only_while_it_stays_where_it_is(lab):
    # Method section 3: two devices at one spot share what is not known of its loss; after it was moved they do not.
    lab.declared["attenuation_sigma_db"] = 1.0
    widths = []
    for since in ("2025-01-01", "2025-06-01"):
        lab.runs.clear()
        for device, epoch, shift in (("A", "2025-01-01", 0), ("B", since, -50)):
            for spot, loss, value in (("S1", 50, 700), ("S2", 60, 500)):
                repeats = [value + shift - 1, value + shift, value + shift + 1]
                lab.add(device, [(loss, repeats)], spot=spot, spot_since=epoch, attenuation_typed=False)
        bench, (a, b) = lab.subjects("A", "B")
        (figure,) = compare(bench, a, b, match="attenuation")
        widths.append(figure.standard_uncertainty)
    # By hand: each line falls by 20 Mbit/s a dB, and each of its ends has half the weight. The means scatter by
    # 1/sqrt(3) at each of two spots: 2 * 2 * (1/2)^2 / 3 = 1/3; four ends of 1 dB: 4 * (20 / 2)^2 = 400.
    assert widths[0] == pytest.approx((1 / 3) ** 0.5)
    assert widths[1] == pytest.approx((1 / 3 + 400) ** 0.5)


def test_versions_stand_in_the_order_people_count_in():
    versions = ["7.10", "7.9", "7.9b", "10.0", "beta 2", "beta 10"]
    assert sorted(versions, key=natural) == ["beta 2", "beta 10", "7.9", "7.9b", "7.10", "10.0"]


def test_visits_are_told_apart_by_runs_that_are_not_read():
    # The client stood at S1, went to S2 for an upload, and came back: downloads at S1 before and after are two visits.
    def run(number, spot, direction):
        at = f"2025-05-12T08:0{number}:00Z"
        return replace(RUN, run_id=number, device="a", spot=spot, spot_since="", direction=direction, at_utc=at)

    every = [run(1, "S1", "down"), run(2, "S2", "up"), run(3, "S1", "down"), run(4, "S1", "down")]
    downloads = [one for one in every if one.direction == "down"]
    whereabouts = [Whereabouts(*(getattr(one, name) for name in Whereabouts._fields)) for one in every]
    whole, part = visits_of(every), visits_of(downloads, whereabouts=whereabouts)
    assert [part[one.run_id] for one in downloads] == [whole[one.run_id] for one in downloads]
    assert len({part[1], part[3], part[4]}) == 2
    assert len(set(visits_of(downloads).values())) == 1
    unclocked = replace(downloads[0], at_utc="2025-05-12")
    assert visits_of([unclocked], whereabouts=whereabouts[1:])[1] == visits_of([unclocked])[1]

"""What is said first of a pair: the largest group, and in how many of the others it is otherwise. Worked by hand."""

import pytest

from builder.pairs.pairing import pairing
from builder.windows.neighbours import company

FAR = [(50, [100.0, 102.0]), (60, [80.0, 82.0]), (70, [60.0, 62.0])]
NEAR = [(50, [500.0, 502.0]), (60, [400.0, 402.0])]
LESS = [(50, [300.0, 302.0]), (60, [200.0, 202.0])]


def first_sentence(lab):
    bench, (a, b) = lab.subjects("A", "B")
    return pairing(bench, a, b, company=company(bench)).sentence


@pytest.fixture
def even(lab):
    """Three places with a client on which the two are alike; the largest group, so it leads."""
    for device in "AB":
        lab.add(device, FAR, client="till", series="till")
    return lab


def test_a_single_group_is_all_there_is(even):
    sentence = first_sentence(even)
    assert sentence.startswith("These tests cannot tell A and B apart")
    assert "group" not in sentence


def test_a_lead_elsewhere_is_said_at_once(even):
    for client in ("u2", "u3"):
        even.add("A", NEAR, client=client, series=client)
        even.add("B", LESS, client=client, series=client)
    assert first_sentence(even).startswith(
        "These tests cannot tell A and B apart: in the same place they came out 0.0 "
    )
    assert first_sentence(even).endswith("In 1 of 3 groups the tests cannot tell; in the other two A gives more.")


def test_leads_of_either_are_counted_apart(even):
    even.add("A", NEAR, client="u2", series="u2")
    even.add("B", LESS, client="u2", series="u2")
    even.add("A", LESS, client="u3", series="u3")
    even.add("B", NEAR, client="u3", series="u3")
    assert first_sentence(even).endswith(
        "In 1 of 3 groups the tests cannot tell; in one B gives more; in the other one A gives more."
    )


def test_of_refused_groups_the_one_with_more_places_leads(lab):
    # In the more usual group A has levels only, in the other each device has a place, if not the same one.
    lab.add("A", [(None, [500.0, 502.0])], level_dbm=-50.0)
    lab.add("B", NEAR)
    lab.add("A", [(50, [500.0, 502.0])], width_mhz=160)
    lab.add("B", [(70, [500.0, 502.0])], width_mhz=160)
    bench, (a, b) = lab.subjects("A", "B")
    leading = pairing(bench, a, b, company=company(bench)).leading
    assert (leading.group.width_mhz, leading.code) == (160, "no-shared-range")


def test_alike_in_every_group(lab):
    for client in ("u2", "u3"):
        lab.add("A", NEAR, client=client, series=client)
        lab.add("B", LESS, client=client, series=client)
    assert first_sentence(lab).endswith("In both groups in which they are compared A gives more.")


def test_a_group_that_is_refused_counts_nowhere(even):
    even.add("A", [(50, 500.0)], client="u2", series="u2")
    even.add("B", [(80, 500.0)], client="u2", series="u2")
    assert "groups" not in first_sentence(even)


def test_a_place_at_which_every_run_broke_off_was_tested_there_all_the_same(lab):
    # Of the usual link B broke off at its third place, so that its line has two; the till's has three of each.
    for device in "AB":
        lab.add(device, FAR, client="till", series="till", band="2.4", width_mhz=20)
    lab.add("A", [*NEAR, (70, [300.0, 302.0])])
    lab.add("B", LESS)
    lab.add("B", [(70, [1.0, 1.0])], outcome="did not finish", throughput_mbit_s=None)
    assert first_sentence(lab).startswith("In the same place A gives ")
    assert first_sentence(lab).endswith("In 1 of 2 groups A gives more; in the other one the tests cannot tell.")

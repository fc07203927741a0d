"""What a list of news says of a device: its value in the middle window and its rank, or why it has none."""

import pytest

from builder.windows.outcomes import window_outcome
from builder.windows.standing import standing
from tests.builder.windows.test_standing import MIDDLE, add, ranking


def said(result, device):
    return window_outcome(result, standing(result, device))


def test_a_value_with_its_rank_interval(lab):
    add(lab, "A", 700)
    add(lab, "B", 98.44)
    result = ranking(lab)
    assert said(result, "A") == "700 Mbit/s a wall or two away (60–75 dB), 1st of 2"
    assert said(result, "B") == "98.4 Mbit/s a wall or two away (60–75 dB), 2nd of 2"


def test_devices_that_cannot_be_told_apart_share_their_ranks(lab):
    for device in "ABC":
        add(lab, device, 700)
    assert said(ranking(lab), "B").endswith(", 1st to 3rd of 3")


def test_alone_it_has_no_rank(lab):
    add(lab, "A", 700)
    assert said(ranking(lab), "A").endswith("a wall or two away (60–75 dB), no other device covers this window")


def test_without_the_whole_window_it_says_why(lab):
    add(lab, "A", 700)
    add(lab, "B", 700, places=(62, 70, 75))
    assert "not ranked" in said(ranking(lab), "B")
    assert "covers 62–75 of 60–75 dB" in said(ranking(lab), "B")


@pytest.mark.parametrize(
    ("place", "word"), [(4, "4th"), (11, "11th"), (12, "12th"), (13, "13th"), (21, "21st"), (22, "22nd")]
)
def test_ranks_are_said_as_people_say_them(lab, place, word):
    for number in range(22):
        add(lab, chr(ord("A") + number), 900 - 30 * number, places=MIDDLE)
    assert said(ranking(lab), chr(ord("A") + place - 1)).endswith(f", {word} of 22")

"""What is said of all pairs at once, as numbers: the sentence and its printed figures, worked by hand."""

import numpy as np
import pytest

from builder.pairs.compare import compare
from builder.pairs.matrix import pair_matrix
from builder.pairs.rows import SENTENCES
from builder.pairs.sentences import either_way
from builder.windows.neighbours import company


def blocks_of(lab, match):
    """What is said of A and B by one match, block by block."""
    bench, subjects = lab.subjects("A", "B")
    one, other = np.array([0]), np.array([1])
    return [b for b in pair_matrix(bench, subjects, one, other, company=company(bench)).blocks if b.match == match]


def sentence_of(lab, match="attenuation"):
    """The name of the one sentence, and as many of its figures as are not 0 at the end."""
    (block,) = blocks_of(lab, match)
    name = SENTENCES[block.rows.sentence[0]]
    return name, np.trim_zeros(block.rows.figures[:, 0], "b").tolist()


def test_a_short_range_has_its_ends_and_its_length_in_tenths(lab):
    lab.add("A", [(50, [900, 910]), (54.5, [700, 710])])
    lab.add("B", [(46, [900, 910]), (54, [700, 710])])
    assert sentence_of(lab) == ("range too short", [500, 540, 40])


def test_a_single_point_is_no_short_range(lab):
    lab.add("A", [(50, [900, 910]), (60, [700, 710])])
    lab.add("B", [(60, [900, 910]), (65.5, [700, 710])])
    assert sentence_of(lab) == ("single point", [600, 600])


def test_ranges_apart_have_their_distance(lab):
    lab.add("A", [(45, [900, 910]), (60, [700, 710])])
    lab.add("B", [(65, [900, 910]), (75, [700, 710])])
    assert sentence_of(lab) == ("no shared range", [50])


def test_the_longest_stretch_both_cover_is_compared(lab):
    # By hand: both cover 46 to 56 dB, where A gives 100 more, and 70 to 77, where it gives 50 more; 13 dB lie between.
    for device, near, far in (("A", 600, 350), ("B", 500, 300)):
        lab.add(device, [(x, [near, near]) for x in (46, 56)])
        lab.add(device, [(x, [far, far]) for x in (70, 77)])
    assert sentence_of(lab) == ("separated", [100, 100, 100, 200])


def test_ranges_of_levels_begin_with_the_lower_one(lab):
    # By hand: A at -54.5 and -50 dBm, B at -54 and -46; both cover -54 to -50.
    for device, levels in (("A", (-50.0, -54.5)), ("B", (-46.0, -54.0))):
        for level in levels:
            lab.add(device, [(-level, [900 + level, 910 + level])], level_dbm=level)
    assert sentence_of(lab, "level") == ("range too short", [-540, -500, 40])


def test_a_lead_over_little_is_a_share_and_over_nothing_is_none(lab):
    # By hand: nothing scatters, so a lead of 5 is known to 0; over 1.0 Mbit/s it is 500.0 %.
    for less, expected in ((1.0, ("separated", [50, 50, 50, 5000])), (0.0, ("separated from nothing", [50, 50, 50]))):
        lab.runs.clear()
        for device, value in (("A", less + 5), ("B", less)):
            lab.add(device, [(50, [value, value]), (60, [value, value])])
        assert sentence_of(lab) == expected


def test_a_spot_stands_once_for_each_loss_it_had_in_the_order_of_time(lab):
    # By hand: at S1 A gave 100 more before it was moved and 50 after. 2 dB are too short a range, so spots are told.
    for since, loss, gain in (("2025-06-01", 62, 50), ("2025-01-01", 60, 100)):
        for device, value in (("A", 500 + gain), ("B", 500)):
            lab.add(device, [(loss, [value, value])], spot="S1", spot_since=since)
    blocks = blocks_of(lab, "spot")
    assert [SENTENCES[block.rows.sentence[0]] for block in blocks] == ["separated", "separated"]
    assert [int(block.rows.figures[0, 0]) for block in blocks] == [100, 50]


@pytest.mark.parametrize("losses", [(60, 70), (70, 60)])
def test_a_spot_that_was_moved_twice_is_told_from_its_last_place(lab, losses):
    # A was at S1 before and after it was first moved, B after the second time; one pair's sentence says the same.
    for since, loss in zip(("2025-01-01", "2025-06-01"), losses, strict=True):
        lab.add("A", [(loss, [500, 500])], spot="S1", spot_since=since)
    lab.add("B", [(80, [500, 500])], spot="S1", spot_since="2025-09-01")
    assert sentence_of(lab, "spot") == ("moved", [10 * losses[1], 800])
    bench, (a, b) = lab.subjects("A", "B")
    for one, other in ((a, b), (b, a)):
        (figure,) = compare(bench, one, other, match="spot")
        assert figure.sentence.startswith(f"S1 changed from {losses[1]} to 80 dB between the tests.")


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        # By hand, of a lead that may be none.
        (-0.06, 8.14, "0.1 behind to 8.1 ahead"),
        (-0.04, 8.14, "0.0–8.1 ahead"),
        (-8.1, 0.0, "8.1 behind to 0.0 ahead"),
    ],
)
def test_an_interval_either_way_has_words_for_signs(low, high, words):
    assert either_way(low, high, 1) == words


def test_who_was_ahead_is_said_without_a_sign(lab):
    # By hand: means of 500 and 510 that scatter by 100 are told apart by nobody, whichever of the two comes first.
    for device, value in (("A", 500), ("B", 510)):
        lab.add(device, [(x, [value - 100, value, value + 100]) for x in (50, 60)])
    for first, other in (("A", "B"), ("B", "A")):
        bench, subjects = lab.subjects(first, other)
        (figure,) = compare(bench, *subjects, match="attenuation")
        low, high = sorted(abs(round(end)) for end in figure.interval)
        assert f"in the same place B was 10 Mbit/s ahead, likely {low} behind to {high} ahead;" in figure.sentence


def test_two_that_gave_as_much_came_out_level(lab):
    for device in ("A", "B"):
        lab.add(device, [(x, [400, 500, 600]) for x in (50, 60)])
    assert sentence_of(lab)[0] == "not separated, even"

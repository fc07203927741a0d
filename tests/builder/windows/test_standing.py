"""What a ranking says of its top and of one device, word for word."""

import pytest

from builder.windows.ranking import rank, ranking_groups
from builder.windows.standing import device_sentence, top_sentence

MIDDLE = (60, 66, 70, 75)


def add(lab, device, value, places=MIDDLE, **fields):
    """A device that gives one value everywhere; nothing scatters."""
    lab.add(device, [(x, [value, value]) for x in places], **fields)


def ranking(lab, window="middle"):
    bench = lab.bench()
    return rank(bench, ranking_groups(bench)[0], window)


def test_a_device_alone_leads_nobody(lab):
    add(lab, "A", 700)
    found = ranking(lab)
    assert top_sentence(found) == (
        "A wall or two away (60–75 dB), Maker A gives 700 Mbit/s; no other device covers the window."
    )
    assert device_sentence(found, "A") == (
        "A wall or two away (60–75 dB) it gives 700 Mbit/s, likely 700–700; no other device covers this window."
    )


def test_a_leader_leads_whoever_was_tested(lab):
    add(lab, "A", 700)
    add(lab, "B", 98.44)
    found = ranking(lab)
    assert top_sentence(found) == (
        "A wall or two away (60–75 dB), Maker A gives 700 Mbit/s and leads every other device tested with this client."
    )
    assert device_sentence(found, "B") == (
        "A wall or two away (60–75 dB) it gives 98.4 Mbit/s, likely 98.4–98.4; rank 2 of 2."
    )


@pytest.mark.parametrize(
    ("others", "ending"),
    [
        ("C", "Maker C does not."),
        ("CD", "Maker C and Maker D do not."),
        ("CDEF", "Maker C, Maker D, Maker E and Maker F do not."),
        ("CDEFGH", "Maker C, Maker D, Maker E, Maker F and 2 more do not."),
    ],
)
def test_a_leader_does_not_lead_those_that_do_not_cover_the_window(lab, others, ending):
    add(lab, "A", 700)
    add(lab, "B", 600)
    for device in others:
        add(lab, device, 900, places=(62, 70, 75))
    assert top_sentence(ranking(lab)).endswith(f"leads every other device that covers the window; {ending}")


@pytest.mark.parametrize(
    ("others", "names"),
    [
        ("B", "Maker B"),
        ("BCDE", "Maker B, Maker C, Maker D and Maker E"),
        ("BCDEFG", "Maker B, Maker C, Maker D, Maker E and 2 more"),
    ],
)
def test_whoever_may_lead_as_well_is_named(lab, others, names):
    for device in "A" + others:
        add(lab, device, 700)
    found = ranking(lab)
    assert top_sentence(found) == (
        f"A wall or two away (60–75 dB), Maker A gives 700 Mbit/s; {names} may lead as well, for the tests cannot tell them "
        "apart."
    )
    count = len(others) + 1
    assert device_sentence(found, "B").endswith(
        f"; its rank among {count} is open, for no other was shown to give more, and none less."
    )


def test_a_rank_says_how_far_it_is_known(lab):
    # By hand: B and C cannot be told apart, and both give less than A and more than D.
    for device, value in (("A", 900), ("B", 700), ("C", 700), ("D", 300)):
        add(lab, device, value)
    found = ranking(lab)
    assert device_sentence(found, "A").endswith("; rank 1 of 4.")
    assert device_sentence(found, "B").endswith("; rank 2–3 of 4.")


def test_without_a_device_that_covers_it_a_window_has_no_leader(lab):
    add(lab, "A", 700)
    found = ranking(lab, "far")
    assert top_sentence(found) == "Far off (75–90 dB), no device covers the whole window, so nobody is ranked."


def test_a_device_without_a_rank_is_told_why(lab):
    add(lab, "A", 700)
    add(lab, "B", 700, places=(62, 70, 75))
    add(lab, "C", 700, direction="up")
    found = ranking(lab)
    assert device_sentence(found, "B") == ("A wall or two away (60–75 dB) it is not ranked: covers 62–75 of 60–75 dB.")
    assert device_sentence(found, "C") == ("It was not tested in this group, so it has no rank there.")


def test_bounds_and_ports_stand_beside_a_value(lab):
    # By hand: 97 % of 930 is 902.1; TCP carries 941 to 949 through 1 Gbit/s, so that 930 is within 3 %.
    lab.ceiling("wrenlet-u2", 930.0)
    lab.ports["B"] = 1000.0
    add(lab, "A", 925)
    add(lab, "B", 700)
    found = ranking(lab)
    assert device_sentence(found, "A").startswith("A wall or two away (60–75 dB) it gives ≥ 925 Mbit/s; rank ")
    lab.ceilings.clear()
    lab.runs.clear()
    add(lab, "B", 930)
    found = ranking(lab)
    assert "it gives 930 Mbit/s (held back by its 1 Gbit/s port), likely 930–930; no other" in device_sentence(
        found, "B"
    )
    assert "gives 930 Mbit/s (held back by its 1 Gbit/s port); no other" in top_sentence(found)

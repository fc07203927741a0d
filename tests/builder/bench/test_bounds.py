"""What held a value back: the client, the lab, the device's own port, or nothing known."""

import pytest

from builder.bench.bounds import Limits, at_port_limit, is_bound
from builder.pairs.compare import compare

CEILING = ("wrenlet-u2", "5", 80, "down")


def limit(value, *, ceiling=None, port=None, lab=None):
    """What held back one value of a device with that port, client and house; all in Mbit/s."""
    known = Limits(
        ceilings={} if ceiling is None else {CEILING: ceiling},
        ports={} if port is None else {"A": port},
        labs={} if lab is None else {"house-a": lab},
    )
    (found,) = known.limits_of(
        [value], device="A", client="wrenlet-u2", house="house-a", band="5", width_mhz=80, direction="down"
    )
    return found


# By hand, method section 4: 97 % of 1000 is 970. TCP through 1 Gbit/s: 1460/1538 of it is 949.28, with timestamps
# 1448/1538, 941.48; within 3 % of either is from 913.24 to 977.76. 1.05 times 949.28 is 996.75.
@pytest.mark.parametrize(
    ("value", "known", "expected"),
    [
        (970.0, {}, None),
        (970.0, {"ceiling": 1000.0}, "client"),
        (969.9, {"ceiling": 1000.0}, None),
        (970.0, {"lab": 1000.0}, "lab"),
        (969.9, {"lab": 1000.0}, None),
        (970.0, {"ceiling": 1000.0, "lab": 1000.0}, "client"),
        (970.0, {"ceiling": 1200.0, "lab": 1000.0}, "lab"),
        (913.3, {"port": 1000.0}, "port-or-client"),
        (913.2, {"port": 1000.0}, None),
        (977.7, {"port": 1000.0}, "port-or-client"),
        (977.8, {"port": 1000.0}, None),
        (940.0, {"port": 1000.0, "ceiling": 996.8}, "port"),
        (940.0, {"port": 1000.0, "ceiling": 996.7}, None),
        (970.0, {"port": 1000.0, "ceiling": 996.8}, "port"),
        (970.0, {"port": 1000.0, "ceiling": 996.7}, "client"),
        (970.0, {"port": 1000.0, "lab": 1000.0}, "port-or-client"),
        (978.0, {"port": 1000.0, "lab": 1000.0}, "lab"),
    ],
)
def test_what_held_a_value_back(value, known, expected):
    found = limit(value, **known)
    assert found == expected
    # A port's limit is the device's own, and exact.
    assert is_bound(found) == (expected in ("client", "lab"))


def test_three_percent_of_a_port_belong_to_it():
    # A port whose TCP limit is 1600 in whole numbers: 3 % are 48.
    port = 1600 * 1538 / 1460
    assert at_port_limit(1648.0, port)
    assert not at_port_limit(1648.01, port)


def test_a_lab_that_holds_one_side_back_leaves_a_least_lead(lab):
    # By hand: 97 % of the lab's 940 is 911.8, so that 925 is a lower bound and 900 is exact; 25 +- its half-width.
    lab.labs["house-a"] = 940.0
    lab.add("A", [(x, [925, 925.5, 924.5]) for x in (50, 60)])
    lab.add("B", [(x, [900, 900.5, 899.5]) for x in (50, 60)])
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="attenuation")
    assert (figure.verdict, figure.leader, figure.bound_a, figure.bound_b) == ("at-least", "a", True, False)
    assert figure.difference == pytest.approx(25 - figure.half_width)
    (reverse,) = compare(bench, b, a, match="attenuation")
    assert (reverse.verdict, reverse.leader, reverse.bound_a, reverse.bound_b) == ("at-least", "b", False, True)


def test_a_lead_within_the_noise_of_a_lab_limit_is_none(lab):
    # By hand: 97 % of 930 is 902.1. The lead of 1.2 lies inside 2.306 * sqrt(1/3) = 1.33.
    lab.labs["house-a"] = 930.0
    lab.add("A", [(x, [903.5, 904.5, 902.5]) for x in (50, 60)])
    lab.add("B", [(x, [902.3, 903.3, 901.3]) for x in (50, 60)])
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="attenuation")
    assert (figure.verdict, figure.code) == ("undecided", "two-bounds")
    lab.labs["house-a"] = 931.5  # 97 %: 903.56, so that one repeat of B is none
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="attenuation")
    assert (figure.verdict, figure.code, figure.bound_b) == ("undecided", "bound-within-noise", False)

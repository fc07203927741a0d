"""A device against its own past."""

from dataclasses import replace

from builder.pairs.histories import firmware_steps


def steps(lab):
    return firmware_steps(lab.bench(), "A", company={})


def add(lab, firmware, unit, *, shift=0):
    values = [(x, [y + shift, y + shift + 1]) for x, y in ((50, 700), (60, 500))]
    lab.add("A", values, firmware=firmware, unit=unit)


def test_each_firmware_stands_against_the_one_before_on_a_unit_that_had_both(lab):
    add(lab, "7.9", "U1")
    add(lab, "7.9", "U2")
    add(lab, "7.10", "U2", shift=50)
    add(lab, "8.0", "U2", shift=90)
    first, second = steps(lab)
    assert (first.older, first.newer, second.older, second.newer) == ("7.9", "7.10", "7.10", "8.0")
    for step in (first, second):
        a, b = step.pairing.a, step.pairing.b
        assert (a.unit, b.unit, a.firmware, b.firmware) == ("U2", "U2", step.newer, step.older)


def test_the_first_of_several_units_speaks(lab):
    for firmware in ("1.0", "2.0"):
        for unit in ("U10", "U9"):
            add(lab, firmware, unit)
    (step,) = steps(lab)
    assert step.pairing.a.unit == "U9"


def test_firmwares_that_no_unit_had_both_of_are_not_paired(lab):
    add(lab, "1.0", "U1")
    add(lab, "2.0", "U2")
    (step,) = steps(lab)
    assert (step.older, step.newer, step.pairing) == ("1.0", "2.0", None)


def test_a_firmware_with_which_nothing_finished_is_no_step(lab):
    add(lab, "1.0", "U1")
    add(lab, "2.0", "U1")
    lab.add("A", [(60, 0.0)], firmware="1.5", unit="U1")
    lab.runs[-1] = replace(lab.runs[-1], throughput_mbit_s=None, outcome="did not finish")
    (step,) = steps(lab)
    assert (step.older, step.newer) == ("1.0", "2.0")

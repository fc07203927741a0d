"""Which firmware helped: amounts and words, and several comparisons that are judged together."""

import pytest

from builder.metrics.intervals import holm_separated
from builder.pairs.firmware_gains import firmware_gains

LINE = ((50, 700), (60, 500))


def gains(lab):
    return firmware_gains(lab.bench(), company={})


def add(lab, device, firmware, *, shift=0.0, spread=5.0, unit="U1", **fields):
    values = [(x, [y + shift - spread, y + shift, y + shift + spread]) for x, y in LINE]
    lab.add(device, values, firmware=firmware, unit=unit, **fields)


def test_a_gain_a_loss_and_what_cannot_be_told_each_say_by_how_much(lab):
    # By hand: the means differ by the shift, for every place of the line moves by it.
    for device, shift in (("Up", 90.0), ("Down", -90.0), ("Same", 1.0)):
        add(lab, device, "1.0")
        add(lab, device, "2.0", shift=shift)
    results = {one.device: one for one in gains(lab)}
    assert [one.device for one in gains(lab)] == ["Up", "Same", "Down"]
    assert {name: one.leading.outcome for name, one in results.items()} == {
        "Up": "more",
        "Down": "less",
        "Same": "untold",
    }
    up, down, same = (results[name].leading for name in ("Up", "Down", "Same"))
    low, high = (f"{value:.0f}" for value in up.figure.interval)
    assert up.sentence == f"2.0 gives 90 Mbit/s more than 1.0, likely {low}–{high}."
    assert down.sentence == f"2.0 gives 90 Mbit/s less than 1.0, likely {low}–{high}."
    assert (up.amount, down.amount, same.amount) == ("90 Mbit/s more", "90 Mbit/s less", "")
    size = f"{same.figure.half_width:.0f}"
    assert same.sentence == f"2.0 and 1.0 cannot be told apart: a difference of {size} Mbit/s or more would have shown."


def test_what_would_count_alone_may_be_chance_among_many(lab):
    # One gain that is just shown by itself, beside ten devices whose firmwares give the same.
    add(lab, "Nearly", "1.0")
    add(lab, "Nearly", "2.0", shift=11.0)
    (alone,) = gains(lab)
    assert alone.leading.outcome == "more"
    assert 0.005 < alone.leading.figure.p < 0.05
    for number in range(10):
        add(lab, f"Same {number}", "1.0")
        add(lab, f"Same {number}", "2.0")
    among = {one.device: one.leading for one in gains(lab)}
    assert among["Nearly"].outcome == "chance"
    assert among["Nearly"].among == 11
    assert "2.0 gave 11 Mbit/s more than 1.0" in among["Nearly"].sentence
    assert "among the 11 comparisons here, one like this may be chance." in among["Nearly"].sentence
    kept = holm_separated([gain.figure.p for gain in among.values()])
    assert not kept.any()


def test_two_firmwares_that_no_unit_had_both_of_are_listed_without_an_amount(lab):
    add(lab, "Apart", "1.0", unit="U1")
    add(lab, "Apart", "2.0", unit="U2")
    (one,) = gains(lab)
    assert (one.gains, one.worse, one.leading) == ((), (), None)


def test_the_spots_at_which_it_gives_less_are_named(lab):
    for firmware, near, far in (("1.0", 700.0, 300.0), ("2.0", 700.0, 200.0)):
        for spot, loss, value in (("S1", 50, near), ("S2", 60, far)):
            lab.add(
                "Mixed", [(loss, [value - 2, value, value + 2])], firmware=firmware, spot=spot, spot_since="2025-01-01"
            )
    (one,) = gains(lab)
    (worse,) = one.worse
    assert worse.figure.spot == "S2"
    assert worse.sentence.startswith("2.0 gives 100 Mbit/s less than 1.0, likely ")
    assert worse.among == 2


@pytest.mark.parametrize("version", ["1.0", "2.0"])
def test_a_device_with_one_firmware_is_no_step(lab, version):
    add(lab, "Once", version)
    assert gains(lab) == []

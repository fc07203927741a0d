"""Rises by hand; power classes against the IEEE 802.3 table; touch cautions against the remembered limits."""

from collections.abc import Callable

import pytest

from builder.metrics.heat import least_poe_class, power_contradiction, rise_k, rises_separated, touch_caution
from catalog.standards import BURN_THRESHOLDS, HELD, TOUCH_LIMITS

Published = Callable[[str], list[dict[str, str]]]


def test_rises_of_the_worked_example() -> None:
    # Source: requirement E19: 48.5 at 23.5 and 51.0 at 27.0 are 25.0 and 24.0 K, not separated.
    a, b = rise_k(48.5, 23.5), rise_k(51.0, 27.0)
    assert (a, b) == (25.0, 24.0)
    assert not rises_separated(a, b)


def test_separated_from_3_kelvin_on() -> None:
    # Source: method section 10: below 3 K apart is not separated; 3.0 K is, in tenths of a degree too.
    assert rises_separated(25.0, 28.0)
    assert rises_separated(28.0, 25.0)
    assert not rises_separated(25.0, 27.9)
    a, b = rise_k(52.2, 20.2), rise_k(49.2, 20.2)
    assert a - b < 3  # 2.9999999999999996 or so in floating point
    assert rises_separated(a, b)


def test_touch_caution() -> None:
    # Source: IEC 62368-1:2018 table 38 from memory: touched occasionally, plastic 77, metal 60, glass 71 °C.
    assert touch_caution(48.0, "plastic") is None
    assert touch_caution(48.1, "plastic") is touch_caution(48.1, "glass") is HELD
    assert touch_caution(52.0, "metal") is touch_caution(58.5, "other") is HELD
    # The same surfaces touched for a moment: 60 °C for metal, 77 °C for plastic.
    moment = TOUCH_LIMITS[2]
    assert touch_caution(58.5, "metal", limit=moment) is touch_caution(77.0, "plastic", limit=moment) is None
    assert touch_caution(77.1, "plastic", limit=moment) is moment
    assert touch_caution(44.0, "plastic", limit=BURN_THRESHOLDS[0]) is BURN_THRESHOLDS[0]


def test_least_class_of_the_published_table(published: Published) -> None:
    # Source: IEEE 802.3-2022, 33 and 145: at its limit a class still fits, above it the next is needed.
    rows = [row for row in published("poe") if row["class"] != "0"]
    for row, following in zip(rows, [*rows[1:], None], strict=True):
        for side, column in (("supply", "pse_min_output_w"), ("device", "pd_max_input_w")):
            fits = least_poe_class(float(row[column]), side)  # type: ignore[arg-type]
            assert fits is not None
            assert fits.number == int(row["class"])
            above = least_poe_class(float(row[column]) + 0.01, side)  # type: ignore[arg-type]
            assert (above and above.number) == (following and int(following["class"]))


def test_contradiction_of_the_worked_example() -> None:
    # Source: requirement E20: 19.5 W at the supply contradicts class 3 (15.4 W there) and fits class 4.
    found = power_contradiction(19.5, "supply", 3)
    assert found is not None
    assert found.limit_w == 15.4
    assert found.needed is not None
    assert found.needed.number == 4
    assert power_contradiction(19.5, "supply", 4) is None


def test_a_reading_is_held_against_the_limit_of_its_own_side() -> None:
    # By hand: 14 W is above the 12.95 W at the device, though the supply may give 15.4 W.
    assert power_contradiction(14.0, "device", 3) is not None
    assert power_contradiction(14.0, "supply", 3) is None
    assert power_contradiction(12.95, "device", 3) is None
    assert power_contradiction(0.0, "device", 3) is None
    with pytest.raises(ValueError, match=r"watts must be at least 0, got -0\.1"):
        least_poe_class(-0.1, "device")


def test_more_than_the_largest_class_allows() -> None:
    found = power_contradiction(95.0, "supply", 8)
    assert found is not None
    assert found.needed is None
    with pytest.raises(ValueError, match="a power class is 0 to 8, got 9"):
        power_contradiction(5.0, "device", 9)
    with pytest.raises(ValueError, match="watts must be at least 0, got -1"):
        power_contradiction(-1, "device", 3)

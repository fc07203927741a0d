"""Will my switch power it? By measured watts, against the limits of IEEE 802.3."""

import re
from dataclasses import replace

from builder.pages.contents import compose
from builder.pages.power import power_page
from tests.builder.pages.conftest import by_heading, with_changed

# Source: IEEE 802.3-2022, tables 33-18 and 145-16 (power at the supply, power at the device), as in method section 10
# for the device side; classes 1 and 2 from memory.
CLASSES = {
    1: ("4", "3.84"),
    2: ("7", "6.49"),
    3: ("15.4", "12.95"),
    4: ("30", "25.5"),
    5: ("45", "40"),
    6: ("60", "51"),
    7: ("75", "62"),
    8: ("90", "71.3"),
}


def sections(page):
    return {part.key: part for part in page.sections}


def test_every_class_has_its_limits(small):
    found = sections(compose(power_page, small))
    for number, (supply, device) in CLASSES.items():
        words = found[f"class-{number}"].sentences[0]
        assert f"{supply} W at the supply, {device} W at the device" in words


def test_measured_watts_decide_and_a_contradiction_is_flagged(small):
    # E20 of the job analysis: 19.5 W at the supply against a promised class 3 (15.4 W there); class 4 is needed.
    page = compose(power_page, small)
    found = sections(page)
    assert page.verdict == "1 device measured; Tessarik A<b drew more than the maker's class allows."
    (row,) = by_heading(found["class-4"].tables[0])
    assert row["Device"].text == "Tessarik A<b"
    reading = [row[heading].text for heading in ("Highest reading", "Doing what", "Read")]
    assert reading == ["19.5 W", "full load", "at the supply"]
    assert (row["Promised"].text, row["Promised"].note) == ("class 3", "contradicted")
    assert "19.5 W at the supply" in found["contradictions"].sentences[0]
    assert found["class-3"].tables == ()
    assert "Tessarik A<b" in found["class-5"].sentences[1]
    assert {row.head.text for row in found["unmeasured"].tables[0].rows} == {
        "Quillmast Sill",
        "Quillmast Vane",
        "Tessarik Untested & new",
    }


def test_the_limit_is_that_of_the_side_it_was_read_on(small):
    # By hand: 14 W fits class 3 at the supply (15.4 W), but not at the device (12.95 W).
    (power,) = small.catalogue.power["tessarik-a-b"]
    for side, needed in (("supply", 3), ("device", 4)):
        changed = with_changed(small, power={"tessarik-a-b": [replace(power, watts=14.0, side=side)]})
        assert sections(compose(power_page, changed))[f"class-{needed}"].tables


def test_more_than_any_class_is_said(small):
    (power,) = small.catalogue.power["tessarik-a-b"]
    page = compose(power_page, with_changed(small, power={"tessarik-a-b": [replace(power, watts=95.0)]}))
    (row,) = by_heading(sections(page)["no-class"].tables[0])
    assert row["Highest reading"].text == "95 W"


def test_each_measured_device_stands_in_one_class(demo):
    page = compose(power_page, demo)
    rows = [
        row.head.text
        for part in page.sections
        if re.fullmatch(r"class-\d|no-class", part.key)
        for table in part.tables
        for row in table.rows
    ]
    assert sorted(rows) == sorted({*rows})
    assert len(rows) == len(
        [d for d in demo.catalogue.power if any(p.power == "in" for p in demo.results.bench.devices[d].ports)]
    )

"""Will my switch power it? By measured watts, against the limits of IEEE 802.3."""

from dataclasses import replace
from urllib.parse import parse_qs

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


def tables(page):
    return {table.key: by_heading(table) for part in page.sections for table in part.tables}


def needs(page):
    return {row["Device"].text: row for row in tables(page)["needs"]}


def test_every_class_has_its_limits(small):
    rows = {row["Class"].text: row for row in tables(compose(power_page, small))["classes"]}
    for number, (supply, device) in CLASSES.items():
        row = rows[f"class {number}"]
        assert (row["At the supply"].text, row["At the device"].text) == (f"{supply} W", f"{device} W")


def test_measured_watts_decide_and_a_contradiction_is_flagged(small):
    # E20 of the job analysis: 19.5 W at the supply against a promised class 3 (15.4 W there); class 4 is needed.
    page = compose(power_page, small)
    assert page.question == "Will my switch power it?"
    assert page.verdict == (
        "Class 4 powers the one measured device. Tessarik A<b drew more than the maker's class allows."
    )
    row = needs(page)["Tessarik A<b"]
    assert (row["Needs (measured)"].text, row["Needs (measured)"].note) == (
        "class 4",
        "contradiction: class 3 promised",
    )
    assert row["Hardest reading"].text == "19.5 W"
    assert (row["Doing what"].text, row["Doing what"].note) == ("full load", "at the supply")
    (contradiction,) = tables(page)["contradicting"]
    assert contradiction["What contradicts"].text.startswith("Contradiction: 19.5 W at the supply")
    powers = {row["Class"].text: row["Powers"] for row in tables(page)["classes"]}
    assert powers["class 3"].why_missing == "none measured"
    assert powers["class 4"].text == powers["class 5"].text == "Tessarik A<b"


def test_what_nobody_measured_stands_last_with_its_promise(small):
    rows = needs(compose(power_page, small))
    assert next(iter(rows)) == "Tessarik A<b"
    assert rows.keys() == {"Tessarik A<b", "Quillmast Sill", "Quillmast Vane", "Tessarik Untested & new"}
    sill = rows["Quillmast Sill"]
    assert (sill["Needs (measured)"].text, sill["Needs (measured)"].note) == ("class 3", "promised, not measured")
    assert sill["Hardest reading"].why_missing == "not measured"


def test_the_limit_is_that_of_the_side_it_was_read_on(small):
    # By hand: 14 W fits class 3 at the supply (15.4 W), but not at the device (12.95 W).
    (power,) = small.catalogue.power["tessarik-a-b"]
    for side, needed in (("supply", 3), ("device", 4)):
        changed = with_changed(small, power={"tessarik-a-b": [replace(power, watts=14.0, side=side)]})
        assert needs(compose(power_page, changed))["Tessarik A<b"]["Needs (measured)"].text == f"class {needed}"


def test_more_than_any_class_is_said(small):
    (power,) = small.catalogue.power["tessarik-a-b"]
    page = compose(power_page, with_changed(small, power={"tessarik-a-b": [replace(power, watts=95.0)]}))
    assert page.verdict.startswith("No class powers any of the measured devices.")
    row = needs(page)["Tessarik A<b"]
    assert row["Needs (measured)"].text == "more than any class allows"
    assert row["Hardest reading"].text == "95 W"


def test_the_classes_of_the_demo_are_counted_by_measurement(demo):
    # By hand, from data/demo, at the supply: 14.1 and 14.6 W fit class 3 (15.4 W); 15.8, 17.1, 18.4, 19.2 and 29.7 W
    # need class 4 (30 W).
    page = compose(power_page, demo)
    assert page.verdict == (
        "Class 3 powers 2 of 7 measured devices, class 4 all 7. Fjeldrun Skerry drew more than the maker's class allows."
    )
    order = [row["Needs (measured)"].text for row in needs(page).values() if not row["Hardest reading"].why_missing]
    assert order == ["class 3"] * 2 + ["class 4"] * 5


def test_a_row_passes_the_filter_by_the_class_it_shows(demo):
    page = compose(power_page, demo)
    (switch,) = page.filters
    assert switch.options == tuple((str(n), f"class {n}") for n in range(1, 9))
    table = next(table for part in page.sections for table in part.tables if table.key == "needs")
    for row, entries in zip(table.rows, by_heading(table), strict=True):
        if entries["Needs (measured)"].text:
            assert parse_qs(row.facets)["poe"] == [entries["Needs (measured)"].text.removeprefix("class ")]

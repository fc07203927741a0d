"""Long tables are cut: every row stands on one page, and none is lost."""

from dataclasses import replace

import pytest

from builder.pages.as_published import AsPublishedPage
from builder.pages.contents import compose
from builder.pages.listing import ListingPage, devices_page
from builder.pages.parts import leaves
from builder.pages.parts.blocks import Entry, Heading, Link, Row, Section, Table
from builder.pages.parts.leaves import rests_of, share, weight_of, with_leaves
from builder.pages.ranking import ranking_page
from builder.pages.rendering import page_templates
from builder.publishing.making.making import row_data
from builder.shipped import templates_folder
from tests.downloads import script_value

HERE = "devices/index.html"


def row(number, *, href="x/index.html"):
    return Row(Entry(text=f"Device {number:03}", href=href), (Entry(text=str(number), sort_key=str(number)),))


def page(rows, *, caption="All devices, by number"):
    table = Table("devices", caption, (Heading("Device"), Heading("Number", numeric=True)), tuple(rows))
    return ListingPage(
        address=HERE, title="Devices", question="Which?", verdict="These.", intro=(), table=table, things="devices"
    )


def test_the_room_is_shared_so_that_the_light_have_all_they_need():
    # By hand: 10 is kept, and the two heavy ones have (150 - 10) / 2 each; with room enough nobody is cut.
    assert share([200, 10, 100], room=150) == [70, 10, 70]
    assert share([200, 10, 100], room=400) == [200, 10, 100]
    assert share([], room=1) == []


def test_what_fits_stays_whole():
    short = page(row(i) for i in range(20))
    assert with_leaves(short) == (short, ())


def test_every_row_stands_on_one_page_in_order():
    rows = [row(i) for i in range(5000)]
    kept, others = with_leaves(page(rows))
    assert len(others) >= 2
    assert [*kept.table.rows, *(r for leaf in others for r in leaf.table.rows)] == rows
    assert kept.table.rest.rows == tuple(rows[len(kept.table.rows) :])
    for table in (kept.table, *(leaf.table for leaf in others)):
        assert weight_of(table) <= max(leaves.PAGE_ROOM, leaves.LEAF_ROOM)


def test_leaves_lead_to_each_other_and_say_which_rows_they_hold():
    kept, others = with_leaves(page(row(i) for i in range(5000)))
    shown = len(kept.table.rows)
    assert kept.table.rest.words == f"Rows 1 to {shown} of 5000."
    assert [link.href for link in kept.table.rest.links] == [leaf.address.rpartition("/")[2] for leaf in others]
    first = others[0]
    end = shown + len(first.table.rows)
    assert first.verdict == f"All devices: rows {shown + 1} to {end} of 5000, Device {shown:03} to Device {end - 1:03}."
    assert first.back.href == "index.html"
    assert [link.href for link in first.others] == ["index.html", *(o.address.rpartition("/")[2] for o in others[1:])]


def test_a_place_on_the_page_is_still_found_from_a_leaf():
    kept, (leaf, *_) = with_leaves(page(row(i, href="#place") for i in range(5000)))
    assert {r.head.href for r in kept.table.rows} == {"#place"}
    assert {r.head.href for r in leaf.table.rows} == {"index.html#place"}


def test_a_row_keeps_the_address_that_its_own_link_names_wherever_it_stands():
    """Rows that link to themselves and to the row before: on the page, across its end, and from leaf to leaf."""
    rows = [
        replace(
            row(i, href=f"#r~{i}"), key=f"r~{i}", entries=(Entry(text="the one before", href=f"#r~{max(i - 1, 0)}"),)
        )
        for i in range(5000)
    ]
    kept, others = with_leaves(page(rows))
    pages = [kept, *others]
    assert len(others) >= 2
    at = {r.key: one.address.rpartition("/")[2] for one in pages for r in one.table.rows}
    for one in pages:
        name = one.address.rpartition("/")[2]
        for r in one.table.rows:
            for target in (r.head.href, r.entries[0].href):
                address, _, key = target.partition("#")
                assert (address or name) == at[key], (name, target)
            assert r.head.href == f"#{r.key}"
    # Scripts put these rows into the page itself, where every place is.
    assert {r.head.href.partition("#")[0] for r in kept.table.rest.rows} == {""}


def test_a_link_above_a_table_leads_to_the_row_on_its_leaf():
    above = Section("first", "First", links=(Link("The last row", "#r~4999"), Link("This section", "#first")))
    table = page(replace(row(i), key=f"r~{i}") for i in range(5000)).table
    long = AsPublishedPage(
        address=HERE,
        title="Long",
        question="What?",
        verdict="This.",
        intro=(),
        sections=(above, Section("rows", "Rows", tables=(table,))),
    )
    kept, others = with_leaves(long)
    last = others[-1].address.rpartition("/")[2]
    assert [link.href for link in kept.sections[0].links] == [f"{last}#r~4999", "#first"]


def test_a_page_that_does_not_grow_is_left_alone(small):
    from builder.pages.device import device_page

    (device, *_) = small.results.bench.devices
    found = compose(device_page, small, device)
    assert with_leaves(found) == (found, ())


def test_scripts_have_the_same_rows_as_the_leaves():
    kept, _ = with_leaves(page(row(i) for i in range(5000)))
    (asset,) = row_data(rests_of(kept))
    handed = script_value(asset.content)
    assert len(handed) == 5000 - len(kept.table.rows)
    last = {"text": "4999", "sort": "4999"}
    assert handed[-1] == {"cells": [{"text": "Device 4999", "href": "x/index.html"}, last]}


@pytest.mark.parametrize(
    "make", [devices_page, lambda catalogue, results, site: ranking_page(catalogue, results, site, results.groups[0])]
)
def test_a_row_weighs_about_what_it_comes_to_in_the_page(demo, make):
    # The estimate decides how much is cut; the build measures the pages themselves (publishing/making/building.py).
    macro = page_templates(templates_folder()).get_template("macros/tables.html").module.plain_table
    for table in leaves._tables(compose(make, demo)):
        one, none = (len(str(macro(replace(table, rows=rows))).encode()) for rows in (table.rows, ()))
        assert (one - none) * 0.9 <= weight_of(table) <= (one - none) * 1.4


def test_links_of_a_cut_table_are_links(demo):
    kept, _ = with_leaves(page(row(i) for i in range(5000)))
    macro = page_templates(templates_folder()).get_template("macros/tables.html").module.data_table
    html = str(macro(replace(kept.table, rows=kept.table.rows[:3])))
    assert 'data-src="../scripts/rows/devices/devices.js"' in html
    assert isinstance(kept.table.rest.links[0], Link)
    assert f'href="{kept.table.rest.links[0].href}"' in html


def test_a_table_may_leave_its_page_as_a_whole():
    rows = [row(i) for i in range(5000)]
    kept, others = with_leaves(page(rows), room=0, fewest=0)
    assert kept.table.rows == ()
    assert [r for leaf in others for r in leaf.table.rows] == rows == list(kept.table.rest.rows)
    assert kept.table.rest.words == "5000 rows, too long for this page:"
    assert [link.href for link in kept.table.rest.links] == [leaf.address.rpartition("/")[2] for leaf in others]
    light, none = with_leaves(page(rows[:3]), room=10_000, fewest=0)
    assert (len(light.table.rows), none) == (3, ())

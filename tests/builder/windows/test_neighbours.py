"""Prepared pairs, largest groups and names: chosen by what was measured, the same way every time."""

from dataclasses import replace

import pytest

from builder.bench.bench import load_bench
from builder.bench.cells import Group, usual
from builder.bench.naming import conditions, full_name, group_names, link_name, series_name
from builder.windows.neighbours import all_nearest, largest_groups, predecessors, prepared_pairs
from builder.windows.ranking import rank
from catalog.visibility import public_copy
from tests.conftest import SMALL_INSTANT


@pytest.fixture(scope="module")
def bench(small_file):
    return load_bench(public_copy(small_file, as_of=SMALL_INSTANT))


def ranked(bench):
    return lambda group, window: rank(bench, group, window)


def test_largest_group_has_most_places(bench):
    # By hand: Sill has five places down and up with Wrenlet and two with Skarn; down is the more usual of two fives.
    found = largest_groups(bench)
    assert (found["quillmast-sill"].series, found["quillmast-sill"].direction) == ("wrenlet-u2", "down")
    assert "tessarik-new" not in found


def test_only_the_current_firmware_counts(bench):
    # Vane's 2.9 has four places, its current 2.10 five; without the latter's cells the group is the same with four.
    group = largest_groups(bench)["quillmast-vane"]
    old = [c for c in bench.cells if c.firmware != "2.10"]
    of = {d: [c for c in old if c.device == d] for d in bench.devices}
    assert largest_groups(replace(bench, cells=old, cells_of=of))["quillmast-vane"] == group


def test_of_equally_large_groups_the_one_with_most_devices_is_the_largest(lab):
    # Two places with each of two clients; B was tested with the second one only.
    for client in ("one", "two"):
        lab.add("A", [(60, [500, 510]), (70, [400, 410])], client=client, series=client)
    lab.add("B", [(60, [500, 510])], client="two", series="two")
    assert {device: group.series for device, group in largest_groups(lab.bench()).items()} == {"A": "two", "B": "two"}


def test_usual_order_of_bands_and_directions():
    groups = [
        Group("c", band, 80, direction, None, None, None, 1)
        for band in ("2.4", "6", "5")
        for direction in ("up", "down")
    ]
    assert [(g.band, g.direction) for g in sorted(groups, key=usual)] == [
        ("5", "down"),
        ("5", "up"),
        ("6", "down"),
        ("6", "up"),
        ("2.4", "down"),
        ("2.4", "up"),
    ]


def test_neighbours_are_the_rows_around_in_the_middle_window(bench):
    # By hand: middle window means fall in the order A<b, Vane, Sill (heights 1790, 1755, 1700 at one slope).
    largest = largest_groups(bench)
    near = all_nearest(bench, largest=largest, ranked=ranked(bench))
    assert near["quillmast-vane"] == ["tessarik-a-b", "quillmast-sill"]
    assert near["tessarik-a-b"] == ["quillmast-vane", "quillmast-sill"]


def test_predecessor_is_of_the_same_maker_and_earlier(bench):
    assert "quillmast-sill" not in predecessors(bench)  # both of its maker began on one day
    assert "tessarik-a-b" not in predecessors(bench)
    later = [replace(c, date="2025-07-01") if c.device == "quillmast-vane" else c for c in bench.cells]
    of = {d: [c for c in later if c.device == d] for d in bench.devices}
    assert predecessors(replace(bench, cells=later, cells_of=of))["quillmast-vane"] == "quillmast-sill"


def test_pairs_named_in_articles_are_prepared_and_untested_devices_never(bench):
    lonely = all_nearest(bench, largest={}, ranked=ranked(bench))
    pairs = prepared_pairs(bench, [("tessarik-a-b", "quillmast-sill", "tessarik-new")], near=lonely)
    assert pairs == [("quillmast-sill", "tessarik-a-b")]


def test_names_are_as_short_as_they_can_be_told_apart(bench):
    tcp = Group("wrenlet-u2", "5", 80, "down", "tcp", 8, None, 1)
    udp = replace(tcp, protocol="udp")
    cell = bench.cells[0]
    cells = [replace(cell, group=tcp), replace(cell, group=tcp), replace(cell, group=udp)]
    names = group_names(replace(bench, cells=cells))
    assert names[tcp].text == "2 streams, 5 GHz, 80 MHz, download (Wrenlet U2, a laptop)"
    assert names[udp].text == "2 streams, 5 GHz, 80 MHz, download, UDP (Wrenlet U2, a laptop)"
    assert names[udp].either_way == "2 streams, 5 GHz, 80 MHz, UDP"
    assert conditions(tcp) == "5 GHz, 80 MHz, download, TCP, 8 flows"


def test_series_is_called_after_the_setup_or_driver_it_began_with(bench):
    client = bench.clients["wrenlet-u2"]
    later = replace(client.drivers[0], version="4.0", series="wrenlet-u2-4.0")
    changed = replace(bench, clients={"wrenlet-u2": replace(client, drivers=(*client.drivers, later))})
    assert series_name(changed, "wrenlet-u2") == "Wrenlet U2"
    assert series_name(changed, "wrenlet-u2-4.0") == "Wrenlet U2 with driver 4.0"
    assert series_name(changed, "unheard-of") == "unheard-of"


def test_a_setup_that_no_bridge_proved_equal_keeps_its_name_and_its_streams(bench):
    client = bench.clients["wrenlet-u2"]
    group = Group("wrenlet-u2 3.11", "5", 80, "up", None, None, None, 1)
    assert series_name(bench, group.series) == "Wrenlet U2"
    assert link_name(bench, group) == "2 streams, 5 GHz, 80 MHz, upload"
    bare = replace(bench, clients={"wrenlet-u2": replace(client, machine=None, radios=())})
    assert full_name(bare, group) == "5 GHz, 80 MHz, upload (Wrenlet U2)"

"""What my room is handed for a group: short names that nobody shares, means over windows, spots, and who is missing."""

from contextlib import closing
from dataclasses import replace

import pytest

from builder.pages.contents import compose, load_contents
from builder.pages.my_room import room_groups
from builder.publishing.files.room_data import DECIMALS, beside_rooms, room_data
from catalog.visibility import public_copy
from tests.builder.publishing.test_script_data import of_lab


@pytest.fixture(scope="module")
def contents(demo_file, demo_instant, tmp_path_factory):
    with closing(public_copy(demo_file, as_of=demo_instant, to=tmp_path_factory.mktemp("copy") / "public.db")) as copy:
        return load_contents(copy, as_of=demo_instant, sizes={})


def room_of(results):
    ((group, beside),) = beside_rooms(results, room_groups(results))
    (data,) = room_data(results, group, beside).values()
    return data


def test_models_are_short_names_unless_two_devices_share_them(lab):
    for device in ("a", "b", "c", "d"):
        lab.add(device, [(52, [800.0, 810.0]), (60, [700.0, 710.0])])
    results = of_lab(lab)
    called = {"a": ("Maker", "One"), "b": ("Maker", "Two"), "c": ("Other", "Two"), "d": ("Other", "Two")}
    known = results.bench.devices
    devices = {d: replace(known[d], maker=maker, model=model) for d, (maker, model) in called.items()}
    results.bench = replace(results.bench, devices=devices)
    labels = {device["id"]: device["label"] for device in room_of(results)["devices"]}
    assert labels == {"a": "One", "b": "Maker Two", "c": "Other Two (c)", "d": "Other Two (d)"}
    assert len(set(labels.values())) == 4


def test_means_are_those_of_the_ranking_and_only_over_windows_that_are_covered(lab):
    lab.add("A", [(49, [900.0, 910.0]), (61, [700.0, 710.0])])  # near is 50 to 60 dB, middle 60 to 75
    lab.add("B", [(49, [800.0, 810.0]), (61, [600.0, 610.0])])
    data = room_of(of_lab(lab))
    means = {device["id"]: device["means"] for device in data["devices"]}
    # By hand: the line from 905 at 49 to 705 at 61 dB, halfway through the window at 55 dB.
    assert means["A"]["near"][0] == pytest.approx(805.0)
    assert [means[device]["near"][4] for device in "AB"] == [1, 2]
    assert all(set(mean) == {"near"} for mean in means.values())
    assert data["windows"] == [["near", 50.0, 60.0], ["middle", 60.0, 75.0], ["far", 75.0, 90.0]]


def test_who_was_tested_otherwise_only_is_named(lab):
    lab.add("A", [(52, [800.0, 810.0]), (60, [700.0, 710.0])])
    lab.add("B", [(None, [300.0])], spot="S1", client="other", series="other")
    assert room_of(of_lab(lab))["absent"] == "Maker B"


def test_spots_have_what_stands_between_them_at_the_bands_own_loss(contents):
    group = next(g for g in compose(room_groups, contents) if g.band == "6")
    beside = dict(beside_rooms(contents.results, [group]))[group]
    (data,) = room_data(contents.results, group, beside).values()
    losses = [loss for *_, loss in data["spots"]]
    assert losses == sorted(losses)
    for key, between, spot, loss in data["spots"]:
        house, name = key.split("~")
        readings = contents.results.bench.epochs[house, name, "6"]
        assert (spot, round(readings[-1].attenuation_db, DECIMALS)) == (name, loss)
        assert not between.startswith("none")
    assert len(data["spots"]) > 5

"""Files of pairs and of my room that are taken from the build before are the very files that would be made anew."""

from collections import defaultdict
from dataclasses import fields, replace
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builder.bench.cells import Cell
from builder.pages.contents import compose
from builder.pairs import parts as pair_parts
from builder.publishing.files.script_data import compared_data
from builder.publishing.files.script_inputs import COMPARED
from builder.publishing.keeping.kept_scripts import keep_scripts, kept_scripts
from builder.windows.neighbours import company
from tests.builder.conftest import Lab
from tests.builder.pairs.test_all_pairs import labs


@pytest.fixture(autouse=True, scope="module")
def small_parts():
    """Parts of one device on average, so that few devices make many files."""
    patch = pytest.MonkeyPatch()
    patch.setattr(pair_parts, "_DEVICES_A_PART", 1)
    yield
    patch.undo()


def of_lab(lab, pairs=()):
    bench = lab.bench()
    cells = defaultdict(list)
    for cell in bench.cells:
        cells[cell.group].append(cell)
    return SimpleNamespace(bench=bench, company=company(bench), pairs=pairs, cells=cells)


@st.composite
def changed_labs(draw):
    """A lab and what it came to: runs added, changed or taken away, a constant declared, a reference device named."""
    before, after = draw(labs()), draw(labs())
    which = draw(st.sampled_from(["value", "gone", "added", "constant", "reference", "all"]))
    runs = list(before.runs)
    place = draw(st.integers(0, len(runs) - 1))
    if which == "value":
        runs[place] = replace(runs[place], throughput_mbit_s=123.4)
    elif which == "gone":
        runs = runs[:place] + runs[place + 1 :] if len({r.device for r in runs}) > 1 else runs
    elif which == "added":
        runs.append(replace(runs[place], run_id=10_000, repeat=9, throughput_mbit_s=321.0))
    elif which == "all":
        return before, after
    later = type(before)(runs, before.ceilings, before.ports, dict(before.houses), dict(before.declared))
    if which == "constant":
        later.declared["session_spread"] = 0.04
    elif which == "reference":
        later.houses["birch"] = "A"
    return before, later


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changed_labs())
def test_kept_files_equal_those_made_anew(both):
    kept = {}
    compose(compared_data, of_lab(both[0]), kept)
    later = of_lab(both[1])
    assert compose(compared_data, later, kept) == compose(compared_data, later, {})


def test_every_field_of_a_cell_is_compared_or_known_not_to_be():
    # What is left out here must never be shown in these files: a field that comes to cells has to be thought of.
    beside = {"group", "device", "unit", "firmware"}
    never = {"date", "median", "median_bound", "limit", "outcomes", "run_ids"}
    assert {field.name for field in fields(Cell)} == {*COMPARED} | beside | never


def many(values):
    lab = Lab()
    for number, value in enumerate(values):
        lab.add(f"D{number:02}", [(50, [value, value + 5]), (60, [value / 2, value / 2 + 5])], level_dbm=-50.0)
    return lab


def test_one_device_leaves_the_files_of_others_alone():
    kept = {}
    compose(compared_data, of_lab(many([500 + n for n in range(16)])), kept)
    before = dict(kept)
    compose(compared_data, of_lab(many([500 + n + 40 * (n == 3) for n in range(16)])), kept)
    same = {key for key in kept if kept[key] == before[key]}
    part = pair_parts.parts_of([f"D{number:02}" for number in range(16)])["D03"]
    pairs = {key for key in kept if key.startswith("pairs/")}
    assert pairs - same <= {key for key in pairs if str(part) in key.removeprefix("pairs/").split("-")}
    assert len(same & pairs) > len(pairs) / 2


def test_a_pair_that_gets_a_page_of_its_own_is_linked():
    kept = {}
    values = [500.0, 520.0, 540.0]
    compose(compared_data, of_lab(many(values)), kept)
    found = compose(compared_data, of_lab(many(values), pairs=[("D00", "D02")]), kept)
    assert sum(b"D00--D02/index.html" in content for content in found.values()) == 1


def test_files_of_devices_that_went_are_gone():
    kept = {}
    compose(compared_data, of_lab(many([500.0] * 6)), kept)
    assert compose(compared_data, of_lab(many([500.0] * 3)), kept) == compose(
        compared_data, of_lab(many([500.0] * 3)), {}
    )


def test_what_is_kept_comes_back_and_only_for_the_same_setting(tmp_path):
    store = tmp_path / "kept" / "scripts.db"
    assert kept_scripts(store, setting="a") == {}
    first = {"pairs/0-0": ("1", b"one"), "pairs/0-1": ("2", b"two")}
    keep_scripts(store, first, before={}, setting="a")
    assert kept_scripts(store, setting="a") == first
    assert kept_scripts(store, setting="b") == {}
    then = {"pairs/0-0": ("3", b"three"), "rooms/x": ("4", b"four")}
    keep_scripts(store, then, before=first, setting="a")
    assert kept_scripts(store, setting="a") == then
    keep_scripts(store, first, before={}, setting="b")
    assert kept_scripts(store, setting="b") == first


def test_damaged_store_is_made_anew(tmp_path):
    store = tmp_path / "scripts.db"
    store.write_bytes(b"no database at all, whatever its name says" * 50)
    assert kept_scripts(store, setting="a") == {}
    keep_scripts(store, {"rooms/x": ("4", b"four")}, before={}, setting="a")
    assert kept_scripts(store, setting="a") == {"rooms/x": ("4", b"four")}

"""Files of pairs and rooms that are kept from the build before are the very files that would be made anew."""

import re
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builder.observed import Inventory
from builder.pages.contents import Contents
from builder.pairs import pair_parts
from builder.publishing.checking.links import PageLinks
from builder.publishing.files import pair_data
from builder.publishing.files.script_data import data_tasks
from builder.publishing.keeping.keeper import Keeper
from builder.publishing.making.made import Made, MadePage, inventory_of, observed, packed, unpacked
from builder.windows.neighbours import company
from builder.windows.ranking import rank, ranking_groups
from catalog.method import WINDOW_NAMES
from tests.builder.conftest import Lab
from tests.builder.pairs.test_all_pairs import labs


@pytest.fixture(autouse=True, scope="module")
def small_parts():
    """Parts of one device on average, and blocks of two parts, so that few devices make many files."""
    patch = pytest.MonkeyPatch()
    patch.setattr(pair_parts, "_DEVICES_A_PART", 1)
    patch.setattr(pair_data, "PARTS_A_BLOCK", 2)
    yield
    patch.undo()


def of_lab(lab, pairs=()):
    bench = lab.bench()
    cells = defaultdict(list)
    for cell in bench.cells:
        cells[cell.group].append(cell)
    rankings = {
        (group, window): rank(bench, group, window) for group in ranking_groups(bench) for window in WINDOW_NAMES
    }
    return SimpleNamespace(bench=bench, company=company(bench), pairs=pairs, cells=cells, rankings=rankings)


@st.composite
def changed_labs(draw):
    """A lab and what it came to: runs added, changed or taken away, a constant declared, a reference device named."""
    before, after = draw(labs()), draw(labs())
    which = draw(st.sampled_from(["value", "gone", "added", "constant", "reference", "port", "ceiling", "all"]))
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
    later = type(before)(runs, list(before.ceilings), dict(before.ports), dict(before.houses), dict(before.declared))
    if which == "constant":
        later.declared["session_spread"] = 0.04
    elif which == "reference":
        later.houses["birch"] = "A"
    elif which == "port":
        later.ports[runs[0].device] = 123.0
    elif which == "ceiling":
        later.ceiling(runs[0].client, 100.0)
    return before, later


def made(results, store):
    """(address -> content of all files of pairs and rooms, addresses of those that were made anew)."""
    contents = Contents(None, results, None)
    keeper = Keeper(store, "setting", inventory_of(contents))
    fresh, entries, files, anew = keeper.fresh(), {}, {}, set()
    for task in data_tasks(results):
        if task.kind not in ("room", "pairs of a block"):
            continue
        if task.key in fresh:
            entries[task.key] = fresh[task.key]
        else:
            looks = set()
            own = tuple((file.address, file.content) for file in task.files(observed(keeper.inventory, looks)))
            entries[task.key] = keeper.entry(task.key, packed(Made(own, frozenset(looks))), looks)
            anew |= {address for address, _ in own}
        files.update(unpacked(entries[task.key].content).files)
    keeper.keep(entries, instead=True)
    return files, anew


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changed_labs())
def test_kept_files_equal_those_made_anew(both):
    with TemporaryDirectory() as folder:
        store = Path(folder, "kept.db")
        made(of_lab(both[0]), store)
        later = of_lab(both[1])
        assert made(later, store)[0] == made(later, None)[0]
        assert made(later, store)[1] == set()


def many(values):
    lab = Lab()
    for number, value in enumerate(values):
        lab.add(f"D{number:02}", [(50, [value, value + 5]), (60, [value / 2, value / 2 + 5])], level_dbm=-50.0)
    return lab


def test_one_device_leaves_the_blocks_of_others_alone(tmp_path):
    before, _ = made(of_lab(many([500 + n for n in range(16)])), tmp_path / "kept.db")
    after, anew = made(of_lab(many([500 + n + 40 * (n == 3) for n in range(16)])), tmp_path / "kept.db")
    assert before.keys() == after.keys()
    changed = {address for address in after if after[address] != before[address]}
    block = pair_parts.parts_of([f"D{number:02}" for number in range(16)])["D03"] // pair_data.PARTS_A_BLOCK
    pairs = {address for address in after if "pairs/" in address}
    parts = {address: map(int, re.findall(r"(\d+)-(\d+)", address)[0]) for address in pairs}
    concerned = {a for a, numbers in parts.items() if block in [n // pair_data.PARTS_A_BLOCK for n in numbers]}
    assert changed & pairs <= anew & pairs == concerned
    assert len(concerned) < len(pairs) / 2


def test_a_pair_that_gets_a_page_of_its_own_is_linked(tmp_path):
    values = [500.0, 520.0, 540.0]
    made(of_lab(many(values)), tmp_path / "kept.db")
    files, _ = made(of_lab(many(values), pairs=[("D00", "D02")]), tmp_path / "kept.db")
    assert sum(b"D00--D02/index.html" in content for content in files.values()) == 1


def test_files_of_devices_that_went_are_gone(tmp_path):
    made(of_lab(many([500.0] * 6)), tmp_path / "kept.db")
    assert made(of_lab(many([500.0] * 3)), tmp_path / "kept.db")[0] == made(of_lab(many([500.0] * 3)), None)[0]


def test_what_is_kept_comes_back_only_if_it_would_be_made_the_same(tmp_path):
    store = tmp_path / "kept" / "kept.db"
    seen = {"red": 1, "blue": 2}

    def keeper(setting="a", **changes):
        return Keeper(store, setting, Inventory(SimpleNamespace(colours=seen | changes)))

    assert keeper().fresh() == {}
    first = {
        "one": keeper().entry("one", b"1", {("colours", "'red'")}),
        "two": keeper().entry("two", b"2", {("colours", "'blue'"), ("colours", "'red'")}),
        "none": keeper().entry("none", b"", ()),
    }
    keeper().keep(first, instead=True)
    assert keeper().fresh() == first
    assert keeper().fresh("two") == {"two": first["two"]}
    assert keeper("b").fresh() == {}
    assert keeper(blue=3).fresh().keys() == {"one", "none"}
    then = {"one": keeper().entry("one", b"other", ())}
    keeper().keep(then, instead=False)
    assert keeper().fresh() == first | then
    keeper().keep(then, instead=True)
    assert keeper().fresh() == then


def test_what_is_packed_comes_out_again():
    page = MadePage(
        address="a/index.html",
        title="A",
        indexed=True,
        charts=2,
        newest="2025-06-20",
        links=PageLinks((("b.html", "", "../b.html"),), (("x", "why"),), frozenset({"top", "foot"})),
        warnings=("look",),
    )
    made = Made((("a/index.html", b"one\ntwo"), ("empty", b""), ("c", bytes(range(256)))), frozenset(), (page,))
    assert unpacked(packed(made)) == made

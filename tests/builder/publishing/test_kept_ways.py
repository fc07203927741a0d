"""Cells, rankings and workloads come from the build before only where this build would make just the same of what it reads."""

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from builder.bench.device_runs import DeviceRuns, EveryRun, device_runs
from builder.observed import digest_of
from builder.pages.contents import load_contents
from builder.publishing.keeping import kept_ways
from builder.publishing.keeping.keeper import Keeper
from builder.publishing.keeping.kept_ways import BENCH, KeptWays
from builder.publishing.making.made import inventory_of
from builder.windows.ranking import ranking_groups
from catalog import queries
from catalog.visibility import public_copy
from tests.builder.publishing.publishing_bench import Bench, batch, runs
from tests.conftest import SMALL_INSTANT

LATER = SMALL_INSTANT.replace(year=2026)


class Ways:
    """What is worked out of one catalogue, again and again; `made` is what the last time made anew."""

    def __init__(self, bench, store, monkeypatch):
        self.bench, self.store, self.made = bench, store, ([], [], [])
        plain_cells, plain_rankings = kept_ways.all_cells, kept_ways.every_ranking
        plain_mixes, plain_workloads = kept_ways.judged_mixes, kept_ways.workload_results

        def cells(runs, *limits, **series):
            runs = list(runs)
            self.made[0].extend(sorted({run.device for run in runs}))
            return plain_cells(runs, *limits, **series)

        def rankings(watched, groups):
            self.made[1].extend(group.slug for group in groups)
            return plain_rankings(watched, groups)

        monkeypatch.setattr(kept_ways, "all_cells", cells)

        def mixes(*records, **named):
            self.made[2].append("mixes")
            return plain_mixes(*records, **named)

        def workloads(*about):
            self.made[2].append("workloads")
            return plain_workloads(*about)

        monkeypatch.setattr(kept_ways, "every_ranking", rankings)
        monkeypatch.setattr(kept_ways, "judged_mixes", mixes)
        monkeypatch.setattr(kept_ways, "workload_results", workloads)

    def again(self, setting="this program"):
        """(what is worked out by way of the store, the same without)."""
        for made in self.made:
            made.clear()
        inventory = inventory_of(None)
        ways = KeptWays(Keeper(self.store, setting, inventory), inventory)
        with closing(public_copy(self.bench.catalog, as_of=LATER)) as copy:
            contents = load_contents(copy, as_of=LATER, sizes={}, ways=ways.ways)
            inventory.complete(contents, there=BENCH)
            ways.keeper.keep(ways.entries, instead=True)
            plain = load_contents(copy, as_of=LATER, sizes={})
        for cell in contents.results.bench.cells:
            assert inventory.digest(("results.bench.cells_of", repr(cell.subject_id))) == digest_of(
                plain.results.bench.cells_of[cell.subject_id]
            )
        return told(contents), told(plain)


def told(contents):
    results = contents.results
    return (
        list(results.bench.cells),
        list(results.bench.cells_under),
        dict(results.rankings),
        results.standing,
        results.mix_results,
        results.workload_results,
    )


@pytest.fixture
def ways(small_file, tmp_path, monkeypatch):
    return Ways(Bench(small_file, tmp_path / "bench", tmp_path / "cache"), tmp_path / "kept.db", monkeypatch)


def test_what_did_not_change_is_not_worked_out_again(ways):
    kept, plain = ways.again()
    assert kept == plain
    assert all(ways.made)
    kept, again = ways.again()
    assert (kept, ways.made) == (again, ([], [], []))
    assert again == plain


def test_one_run_makes_its_device_and_its_group_anew(ways, tmp_path):
    ways.again()
    every = len(ways.made[1])
    ways.bench.enter(batch(tmp_path, "later", runs_csv=runs(device="quillmast-vane", firmware="2.10")))
    kept, plain = ways.again()
    assert kept == plain
    assert ways.made[0] == ["quillmast-vane"]
    assert 0 < len(ways.made[1]) < every
    assert all(slug.startswith("wrenlet-u2~5~80~down") for slug in ways.made[1])
    assert ways.made[2] == []


def test_runs_with_several_clients_that_say_something_else_are_judged_again(ways):
    ways.again()
    ways.bench.sql("UPDATE station SET planned_s = planned_s + 1")
    kept, plain = ways.again()
    assert kept == plain
    assert ways.made[2] == ["mixes", "workloads"]


def test_workloads_look_at_the_devices_they_name(ways):
    first, _ = ways.again()
    assert first[-1]
    ways.bench.sql("UPDATE device SET model = model || ' II'")
    kept, plain = ways.again()
    assert kept == plain
    assert ways.made[2] == ["mixes", "workloads"]


def test_what_cells_rest_on_beside_their_runs_is_asked_too(ways):
    ways.again()
    ways.bench.sql("UPDATE house SET lab_limit_mbit_s = 500")
    kept, plain = ways.again()
    assert kept == plain
    assert len(ways.made[0]) > 1


@pytest.mark.parametrize("key", ["cells of a device ", "ranked group ", "several clients "])
def test_what_was_damaged_is_worked_out_again(ways, key):
    first, _ = ways.again()
    with closing(sqlite3.connect(ways.store)) as db, db:
        harmed = db.execute(
            "UPDATE entry SET content = CAST(substr(content, 1, length(content) - 2) AS BLOB) WHERE key LIKE ? || '%'",
            [key],
        ).rowcount
    assert harmed == 1 if key.startswith("several") else harmed > 1
    assert ways.again()[0] == first
    made = dict(zip(("cells of a device ", "ranked group ", "several clients "), ways.made, strict=True))
    assert len(made[key]) == (2 if key.startswith("several") else harmed)


def test_another_program_uses_nothing_of_it(ways):
    first, _ = ways.again()
    made = tuple(map(list, ways.made))
    assert ways.again("another program")[0] == first
    assert ways.made == made


def test_runs_by_device_are_all_runs(small_file):
    with closing(public_copy(small_file, as_of=LATER)) as copy:
        plain, of_device = queries.runs(copy), device_runs(copy)
        every = EveryRun(of_device)
        assert list(every.values()) == plain
        assert list(every) == [run.run_id for run in plain]
        assert [every[run.run_id] for run in plain] == plain
        assert len(every) == len(plain)
        assert plain[0].run_id in every
        assert -1 not in every


def test_a_digest_of_runs_is_about_what_they_say_and_not_about_their_numbers():
    def digest(*rows):
        return DeviceRuns(rows, replace).digest

    assert digest((1, "noon", 5.0), (2, "noon", None)) == digest((7, "noon", 5.0), (9, "noon", None))
    assert len({digest(), digest((1, "noon", 5.0)), digest((1, "noon", 5.5)), digest((1, "noon", None))}) == 4


def test_whole_groups_are_ranked(ways):
    with closing(public_copy(ways.bench.catalog, as_of=LATER)) as copy:
        results = load_contents(copy, as_of=LATER, sizes={}).results
    assert {group for group, _ in ways.again()[0][2]} == set(ranking_groups(results.bench))

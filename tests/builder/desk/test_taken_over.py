"""Runs and cells that are taken over from the copy before are those that are read anew."""

from itertools import pairwise

import pytest

from builder.bench.bench import load_bench
from builder.desk.first_copy import Spread
from builder.desk.taken_over import TakingOver
from catalog import queries
from catalog.visibility import full_copy
from tests.batches import device, things
from tests.builder.publishing.publishing_bench import SECOND_BEFORE, Bench, batch, runs

NEW = things(device=[device("polmerre-new", port=[{"name": "LAN", "speed_mbit_s": 1000}])])


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


class Copies:
    """Copies of a catalogue one after the other, each taking over from the one before."""

    def __init__(self, bench):
        self.bench, self.spread, self.before, self.read = bench, Spread(), None, 0

    def take(self):
        """Takes over, compares with all read anew; gives the devices whose runs were taken over."""
        copy = full_copy(self.bench.catalog, as_of=SECOND_BEFORE, blocks=self.spread)
        taking = TakingOver(self.before)
        of_devices = taking.runs(copy)
        taken = [run for runs in of_devices.values() for run in runs.values()]
        assert taken == queries.runs(copy)
        assert list(of_devices) == sorted({run.device for run in taken})
        assert load_bench(copy, runs=taken, cells_of_runs=taking.cells) == load_bench(copy)
        before, self.before = self.before, taking.measured
        if before is None:
            return set()
        return {name for name, of in taking.measured.runs.items() if of and of is before.runs.get(name)}


def test_only_devices_with_other_runs_are_read(bench, tmp_path):
    copies = Copies(bench)
    copies.take()
    everything = set(copies.before.runs)
    assert copies.take() == everything
    bench.enter(batch(tmp_path, "more", runs_csv=runs(height=1650.0)))
    assert copies.take() == everything - {"quillmast-sill"}
    bench.enter(batch(tmp_path, "new", more=NEW, runs_csv=runs(device="polmerre-new")))
    assert copies.take() == everything
    assert copies.take() == everything | {"polmerre-new"}
    key = "device=quillmast-sill;firmware=1.0;session=day-more;spot=S1;repeat=1"
    bench.correct(f"runs,{key},throughput,727,730,read wrongly,me,2025-09-02")
    assert copies.take() == (everything | {"polmerre-new"}) - {"quillmast-sill"}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE epoch SET attenuation_db = attenuation_db + 1 WHERE spot = 'S3'",
        "UPDATE client SET series = 'another' WHERE client_id = 'skarn-c3'",
        "UPDATE session SET date = '2025-05-13' WHERE session_id = '2025-05-12'",
    ],
)
def test_what_runs_take_from_elsewhere_has_them_read(statement, bench):
    copies = Copies(bench)
    copies.take()
    bench.sql(statement)
    assert copies.take() == set()


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM ceiling",
        "UPDATE device_port SET speed_mbit_s = 100 WHERE device_id = 'quillmast-sill'",
        "DELETE FROM run WHERE device_id = 'tessarik-a-b' AND run_id NOT IN (SELECT run_id FROM ceiling WHERE run_id IS NOT NULL)",
    ],
)
def test_cells_follow_what_limits_them(statement, bench):
    copies = Copies(bench)
    copies.take()
    bench.sql("PRAGMA foreign_keys = OFF")
    bench.sql(statement)
    copies.take()


def test_numbers_stay_and_keep_their_order():
    spread = Spread()
    names = [f"device-{n:04}" for n in range(0, 400, 2)]
    first = dict(spread(names))
    for n in range(1, 400, 6):
        names = sorted([*names, f"device-{n:04}"])
        now = spread(names)
        assert {name: now[name] for name in first} == first
        assert sorted(names, key=now.__getitem__) == names
    crowded = [f"device-0000-{n:03}" for n in range(60)]  # more than can be halved: all are numbered anew
    for count in range(len(crowded)):
        now = spread(sorted([*names, *crowded[: count + 1]]))
        assert sorted(now, key=now.__getitem__) == sorted([*names, *crowded[: count + 1]])
        numbers = sorted(now.values())
        assert min(b - a for a, b in pairwise(numbers)) >= 2**20

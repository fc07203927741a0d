"""`enter` killed at any moment: all of the batch or nothing, the site untouched, and the next run succeeds."""

import random
import time

import pytest

from catalog.connection import open_catalog
from catalog.exporting import verify
from tests.faults.killing import KILLS, contents, killed, ran
from tests.faults.many_runs import many_runs

ROWS = 2000


@pytest.fixture(scope="module")
def batch(tmp_path_factory):
    return many_runs(tmp_path_factory.mktemp("batches") / "many", ROWS)


def state(path):
    """Runs and batches, once the catalogue is found sound."""
    db = open_catalog(path, readonly=True)
    try:
        assert verify(db) == []
        counts = db.execute("SELECT (SELECT count(*) FROM run), (SELECT count(*) FROM batch)").fetchone()
    finally:
        db.close()
    return tuple(counts)


def test_killed_enter_leaves_all_or_nothing(catalog, batch, charts, tmp_path):
    code, _, err = ran("build", "--out", tmp_path / "site", "--catalog", catalog, cache=charts)
    assert code == 0, err
    site = contents(tmp_path / "site")
    runs, batches = state(catalog)
    begun = time.monotonic()
    assert ran("enter", batch, "--catalog", catalog, cache=charts)[0] == 0
    took = time.monotonic() - begun
    assert state(catalog) == (runs + ROWS, batches + 1)
    chance = random.Random(4711)
    caught = 0
    for number in range(
        3 * KILLS
    ):  # more than are asked for only where most came too late, as the machine's speed changed
        if number >= KILLS and caught >= KILLS // 3:
            break
        assert ran("undo", "many", "--catalog", catalog, cache=charts)[0] == 0
        assert state(catalog) == (runs, batches)
        caught += killed("enter", batch, "--catalog", catalog, cache=charts, after=chance.uniform(0, 1) * took) == -9
        assert state(catalog) in ((runs, batches), (runs + ROWS, batches + 1))
        begun = time.monotonic()
        code, out, err = ran("enter", batch, "--catalog", catalog, cache=charts)
        assert code == 0, err
        if "already entered" not in out:
            took = time.monotonic() - begun  # the machine may be busier now than it was, or less so
        assert f"{ROWS} new rows" in out or "already entered" in out
        assert state(catalog) == (runs + ROWS, batches + 1)
        assert contents(tmp_path / "site") == site
    assert caught >= KILLS // 3, "the moments should fall while the program works"


def test_killed_enter_into_a_new_catalogue_leaves_none_or_a_whole_one(original, charts, tmp_path):
    folder = original.parent / "2025-05-first"
    new = tmp_path / "new.db"
    begun = time.monotonic()
    assert ran("enter", folder, "--catalog", new, cache=charts)[0] == 0
    took = time.monotonic() - begun
    whole = state(new)
    chance = random.Random(42)
    for _ in range(KILLS):
        new.unlink()
        killed("enter", folder, "--catalog", new, cache=charts, after=chance.uniform(0.3, 1.1) * took)
        if new.exists():
            assert state(new) == whole
        code, _, err = ran("enter", folder, "--catalog", new, cache=charts)
        assert code == 0, err
        assert state(new) == whole
        assert [path.name for path in tmp_path.iterdir()] == ["new.db"]

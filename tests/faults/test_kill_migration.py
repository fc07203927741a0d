"""A catalogue of an earlier version killed while it is brought up: the old one or the new one, whole, and the next run succeeds."""

import shutil
from contextlib import closing
from itertools import cycle, islice

import pytest

from catalog import schema
from catalog.connection import open_catalog
from catalog.exporting import verify
from tests.earlier.unpacking import dumped, version, version_1
from tests.faults.killing import KILLS, ran

# Python that the process runs first. A small cache makes SQLite write into the file long before the end.
BEGIN = """
import os, signal, sqlite3, threading, time
from catalog import migrations, schema
def die():
    os.kill(os.getpid(), signal.SIGKILL)
first, second, *later = migrations.STEPS
def step(db):
    db.execute("PRAGMA cache_size = 1")
    second(db)
"""
# In the middle of a step, once some digests were taken again.
WITHIN_STEP = """
from catalog.digesting import digests
take, taken = digests.longrun_digest, []
def counted(log, key):
    taken.append(key)
    if len(taken) == {count}:
        die()
    return take(log, key=key)
digests.longrun_digest = counted
migrations.STEPS = (first, step, *later)
"""
# Between two steps that are due together.
BETWEEN = """
schema.VERSION += 1
migrations.STEPS = (first, step, lambda db: die(), *later)
"""
# Within the commit: a timer, since no step of Python's lies in between.
AROUND_COMMIT = """
*others, newest = (step, *later)
def last(db):
    newest(db)
    threading.Thread(target=lambda: (time.sleep({after}), die()), daemon=True).start()
migrations.STEPS = (first, *others, last)
"""
MOMENTS = [
    BEGIN + BETWEEN,
    BEGIN + WITHIN_STEP.format(count=5),
    BEGIN + AROUND_COMMIT.format(after=0.0005),
    BEGIN + WITHIN_STEP.format(count=2),
    BEGIN + AROUND_COMMIT.format(after=0.002),
    BEGIN + AROUND_COMMIT.format(after=0.006),
]


@pytest.fixture(scope="module")
def original(tmp_path_factory):
    return version_1(tmp_path_factory.mktemp("earlier") / "catalog.db")


def test_killed_at_any_step_it_is_of_the_one_version_or_the_other(original, charts, tmp_path):
    place = tmp_path / "bench"
    place.mkdir()
    catalog = place / "catalog.db"
    opened = ("undo", "no-such-batch", "--catalog", catalog)  # opens it for writing, and then refuses
    whole = dumped(original)
    caught, half_written = 0, 0
    for at in islice(cycle(MOMENTS), KILLS):
        shutil.copy(original, catalog)
        code, _, err = ran(*opened, cache=charts, before=at)
        assert code in (1, -9), err
        caught += code == -9
        half_written += (place / "catalog.db-journal").exists()
        assert dumped(catalog) == whole
        assert version(catalog) in (1, schema.VERSION)
        if at.endswith((BETWEEN, WITHIN_STEP.format(count=2), WITHIN_STEP.format(count=5))):
            assert version(catalog) == 1
        code, _, err = ran(*opened, cache=charts)
        assert (code, "no-such-batch" in err) == (1, True), err
        assert version(catalog) == schema.VERSION
        with closing(open_catalog(catalog, readonly=True)) as db:
            assert verify(db) == []
        assert dumped(catalog) == whole
        assert [path.name for path in place.iterdir()] == ["catalog.db"]
    assert caught >= KILLS // 2
    assert half_written, "a kill should have left a journal to roll back"

"""`enter`, `load` and `dump` killed at chosen steps, before and after the commit and the rename: the old one or the new one, whole."""

import shutil
from itertools import cycle, islice

import pytest

from catalog.connection import open_catalog
from catalog.exporting import verify
from tests.faults.killing import KILLS, contents, ran
from tests.faults.many_runs import many_runs

ROWS = 500

# Python that the process runs first: it counts the steps that make something last, and dies before or after one.
HOOK = """
import os, pathlib, signal
from sqlite_utils import Database
steps = 0
def counted(step):
    def call(*arguments, **keywords):
        global steps
        steps += 1
        if steps == {step} and {before}:
            os.kill(os.getpid(), signal.SIGKILL)
        done = step(*arguments, **keywords)
        if steps == {step}:
            os.kill(os.getpid(), signal.SIGKILL)
        return done
    return call
os.fsync, os.link = counted(os.fsync), counted(os.link)
pathlib.Path.replace, pathlib.Path.rename = counted(pathlib.Path.replace), counted(pathlib.Path.rename)
execute, commit = Database.execute, counted(Database.execute)
Database.execute = lambda db, sql, *others: (commit if sql in ("COMMIT", "BEGIN IMMEDIATE") else execute)(db, sql, *others)
"""
# Within a commit: SQLite makes the journal last, then writes into the catalogue, then removes the journal. A timer kills
# it so long after the commit began; no step of Python's lies in between.
WITHIN = """
import os, signal, threading, time
from sqlite_utils import Database
execute = Database.execute
def dying(db, sql, *others):
    if sql == "COMMIT":
        threading.Thread(target=lambda: (time.sleep({after}), os.kill(os.getpid(), signal.SIGKILL)), daemon=True).start()
    return execute(db, sql, *others)
Database.execute = dying
"""


def moments(steps):
    """As many moments as asked for: before and after each step, and within the commit, over and over."""
    at_steps = [HOOK.format(step=step, before=before) for step in range(1, steps + 1) for before in (True, False)]
    within = [WITHIN.format(after=after) for after in (0.0005, 0.002, 0.006)]
    mixed = [moment for pair in zip(reversed(at_steps), cycle(within), strict=False) for moment in pair]
    return list(islice(cycle(mixed), KILLS))


def killed(*arguments, cache, at):
    """Whether the process was killed; a step that this run never came to lets it end by itself."""
    code, _, err = ran(*arguments, cache=cache, before=at)
    assert code in (0, -9), err
    return code == -9


def state(path):
    """Runs and batches, once the catalogue is found sound."""
    db = open_catalog(path, readonly=True)
    try:
        assert verify(db) == []
        return tuple(db.execute("SELECT (SELECT count(*) FROM run), (SELECT count(*) FROM batch)").fetchone())
    finally:
        db.close()


def names(folder):
    """What a person sees there."""
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


@pytest.fixture(scope="module")
def batch(tmp_path_factory):
    return many_runs(tmp_path_factory.mktemp("batches") / "many", ROWS)


def test_enter_killed_around_its_commit_leaves_all_or_nothing(original, batch, charts, tmp_path):
    place = tmp_path / "bench"
    place.mkdir()
    catalog = place / "catalog.db"
    shutil.copy(original, catalog)
    runs, batches = state(catalog)
    caught = 0
    for at in moments(2):  # begin and commit
        for path in place.iterdir():
            path.unlink()
        shutil.copy(original, catalog)
        caught += killed("enter", batch, "--catalog", catalog, cache=charts, at=at)
        assert state(catalog) in ((runs, batches), (runs + ROWS, batches + 1))
        assert ran("enter", batch, "--catalog", catalog, cache=charts)[0] == 0
        assert state(catalog) == (runs + ROWS, batches + 1)
        assert [path.name for path in place.iterdir()] == ["catalog.db"]
    assert caught >= KILLS // 2


def test_enter_into_a_new_catalogue_killed_around_its_name_leaves_none_or_a_whole_one(original, charts, tmp_path):
    folder = original.parent / "2025-05-first"
    new = tmp_path / "bench" / "new.db"
    caught = 0
    for at in moments(4):  # begin, commit, link, sync of the folder
        shutil.rmtree(new.parent, ignore_errors=True)
        new.parent.mkdir()
        caught += killed("enter", folder, "--catalog", new, cache=charts, at=at)
        assert names(new.parent) in ([], ["new.db"])
        whole = state(new) if new.exists() else None
        assert ran("enter", folder, "--catalog", new, cache=charts)[0] == 0
        assert whole in (None, state(new))
        assert [path.name for path in new.parent.iterdir()] == ["new.db"]
    assert caught >= KILLS // 2


def test_load_killed_around_its_commit_and_name_leaves_none_or_a_whole_one(original, charts, tmp_path):
    dump, new = tmp_path / "dump.jsonl", tmp_path / "bench" / "new.db"
    assert ran("dump", dump, "--catalog", original, cache=charts)[0] == 0
    caught = 0
    for at in moments(4):
        shutil.rmtree(new.parent, ignore_errors=True)
        new.parent.mkdir()
        caught += killed("load", dump, "--catalog", new, cache=charts, at=at)
        assert names(new.parent) in ([], ["new.db"])
        if new.exists():
            assert state(new) == state(original)
            new.unlink()
        assert ran("load", dump, "--catalog", new, cache=charts)[0] == 0
        assert state(new) == state(original)
        assert [path.name for path in new.parent.iterdir()] == ["new.db"]
    assert caught >= KILLS // 2


def test_dump_killed_around_its_rename_leaves_the_older_or_the_new_one(original, batch, charts, tmp_path):
    catalog, dump = tmp_path / "catalog.db", tmp_path / "bench" / "dump.jsonl"
    dump.parent.mkdir()
    shutil.copy(original, catalog)
    assert ran("dump", dump, "--catalog", catalog, cache=charts)[0] == 0
    older = dump.read_bytes()
    assert ran("enter", batch, "--catalog", catalog, cache=charts)[0] == 0
    assert ran("dump", tmp_path / "new.jsonl", "--catalog", catalog, cache=charts)[0] == 0
    new = (tmp_path / "new.jsonl").read_bytes()
    steps = [HOOK.format(step=step, before=before) for step in (3, 2, 1) for before in (True, False)]
    caught = 0
    for at in islice(cycle(steps), KILLS):  # sync, rename, sync of the folder
        dump.write_bytes(older)
        caught += killed("dump", dump, "--catalog", catalog, cache=charts, at=at)
        assert dump.read_bytes() in (older, new)
        assert names(dump.parent) == ["dump.jsonl"]
        assert ran("dump", dump, "--catalog", catalog, cache=charts)[0] == 0
        assert contents(dump.parent) == {"dump.jsonl": new}
    assert caught == KILLS

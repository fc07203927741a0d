"""Damaged batch folders never end in a traceback, a hang or a half-entered batch.

LIKELOSS_FUZZ says how many (300 without it), LIKELOSS_FUZZ_FROM with which seed to begin.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
from collections import Counter
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused, CatalogError
from catalog.exporting import dump, verify
from tests.faults.fuzzing import damaged_batch

pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")  # numbers that do not fit are cast with one
NOW = datetime(2026, 1, 1, tzinfo=UTC)
LIMIT_S = 20
CASES = int(os.environ.get("LIKELOSS_FUZZ", "300"))
FIRST = int(os.environ.get("LIKELOSS_FUZZ_FROM", "0"))
AT_ONCE = 50
STORIES = Path(__file__).parents[1] / "stories"


class Hung(BaseException):
    """Not an Exception, so that no reader takes it for a broken file."""


@contextmanager
def at_most(seconds):
    def stop(number, frame):
        raise Hung(f"still busy after {seconds} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def dumped(path):
    out = io.BytesIO()
    with closing(open_catalog(path, readonly=True)) as db:
        dump(db, out)
    return out.getvalue()


@pytest.fixture(scope="module")
def catalog(tmp_path_factory):
    """A catalogue that holds something already: story 1."""
    path = tmp_path_factory.mktemp("fuzz") / "catalog.db"
    enter_batch(STORIES / "01-partial-overlap", into=path, now=NOW)
    return path


@pytest.fixture(scope="module")
def stories():
    """The batches of the stories, by file."""
    return [
        {str(file.relative_to(folder)): file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file()}
        for folder in sorted(STORIES.iterdir())
        if folder.is_dir() and folder.name != "__pycache__"
    ]


def tried(folder, catalog, before):
    """Check and enter a folder, and take it out again; says how it went."""
    try:
        with closing(open_catalog(catalog, readonly=True)) as db:
            report = check_batch(folder, catalog=db)
    except CatalogError as refusal:
        report, said = None, str(refusal)
    else:
        json.dumps(report.to_json(), allow_nan=False).encode()
        said = "\n".join(map(str, (*report.problems, *report.warnings)))
        for problem in (*report.problems, *report.warnings):
            assert problem.row >= 1
            assert problem.expected
            assert problem.code
    said.encode()  # it can be printed
    entered = refused = None
    try:
        entered = enter_batch(folder, into=catalog, now=NOW)
    except CatalogError as refusal:
        refused = refusal
    if entered is None:
        assert report is None or (report.problems and isinstance(refused, BatchRefused)), f"only enter says: {refused}"
        assert dumped(catalog) == before, "refused, but something was entered"
        return "refused"
    assert report is not None
    assert not report.problems, "entered in spite of problems"
    if entered.already_entered is not None:
        assert dumped(catalog) == before
        return "nothing new"
    with closing(open_catalog(catalog, readonly=False)) as db:
        assert verify(db) == []
        undo_batch(entered.batch, catalog=db)
    assert dumped(catalog) == before, "undone, but something is left"
    return "entered"


@pytest.mark.parametrize("first", range(FIRST, FIRST + CASES, AT_ONCE))
def test_damaged_batches_are_entered_whole_or_refused_in_words(first, catalog, stories, tmp_path):
    before = dumped(catalog)
    ends = Counter()
    for seed in range(first, min(first + AT_ONCE, FIRST + CASES)):
        folder = tmp_path / str(seed)
        damage = damaged_batch(seed, folder, stories)
        try:
            with at_most(LIMIT_S):
                ends[tried(folder, catalog, before)] += 1
        except (Exception, Hung) as failure:
            pytest.fail(f"seed {seed} ({damage}): {type(failure).__name__}: {failure}")
        shutil.rmtree(folder)
    assert ends["refused"] > 0

"""Damaged batch folders never end in a traceback, a hang or a half-entered batch.

LIKELOSS_FUZZ says how many (300 without it), LIKELOSS_FUZZ_FROM with which seed to begin.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from pathlib import Path

import pytest

from catalog.entering import enter_batch
from tests.faults.fuzzing import damaged_batch
from tests.faults.trying import LIMIT_S, NOW, Hung, at_most, dumped, tried

pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")  # numbers that do not fit are cast with one
CASES = int(os.environ.get("LIKELOSS_FUZZ", "300"))
FIRST = int(os.environ.get("LIKELOSS_FUZZ_FROM", "0"))
AT_ONCE = 50
STORIES = Path(__file__).parents[1] / "stories"


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

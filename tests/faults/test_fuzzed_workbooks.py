"""Changed workbooks are entered whole or refused in words, never with a traceback, a hang or half of them.

LIKELOSS_FUZZ says how many (300 without it), LIKELOSS_FUZZ_FROM with which seed to begin.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter

import pytest

from tests.faults.fuzzing_books import before_them, changed_workbook, whole_sheets
from tests.faults.trying import LIMIT_S, Hung, at_most, dumped, tried

pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")
CASES = int(os.environ.get("LIKELOSS_FUZZ", "300"))
FIRST = int(os.environ.get("LIKELOSS_FUZZ_FROM", "0"))
AT_ONCE = 50


@pytest.fixture(scope="module")
def catalog(tmp_path_factory):
    """A catalogue that holds something already, and nothing of what the workbooks bring."""
    return before_them(tmp_path_factory.mktemp("fuzz"))


@pytest.fixture(scope="module")
def sheets():
    return whole_sheets()


@pytest.mark.parametrize("first", range(FIRST, FIRST + CASES, AT_ONCE))
def test_changed_workbooks_are_entered_whole_or_refused_in_words(first, catalog, sheets, tmp_path):
    before = dumped(catalog)
    ends: Counter[str] = Counter()
    for seed in range(first, min(first + AT_ONCE, FIRST + CASES)):
        folder = tmp_path / str(seed)
        book, changes = changed_workbook(seed, folder, sheets)
        try:
            with at_most(LIMIT_S):
                ends[tried(book, catalog, before)] += 1
        except (Exception, Hung) as failure:
            pytest.fail(f"seed {seed} ({changes}): {type(failure).__name__}: {failure}")
        shutil.rmtree(folder)
    assert ends["refused"] > 0
    assert ends["entered"] > 0

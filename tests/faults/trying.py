"""A batch that may be damaged, checked, entered and taken out again: how it went, and that nothing is left."""

from __future__ import annotations

import io
import json
import signal
from contextlib import closing, contextmanager
from datetime import UTC, datetime

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused, CatalogError
from catalog.exporting import dump, verify

NOW = datetime(2026, 1, 1, tzinfo=UTC)
LIMIT_S = 60


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


def tried(batch, catalog, before):
    """Check and enter a batch, and take it out again; says how it went."""
    try:
        with closing(open_catalog(catalog, readonly=True)) as db:
            report = check_batch(batch, catalog=db)
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
        entered = enter_batch(batch, into=catalog, now=NOW)
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

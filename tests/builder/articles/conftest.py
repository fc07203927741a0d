"""Articles bound to the worked stories of the design, whose numbers were worked by hand in the job analysis."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from builder.articles.bound_article import bind
from builder.pages.contents import compose, load_contents
from builder.pages.parts.looked_up import evidence_of
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from catalog.records import Article
from catalog.visibility import public_copy
from tests.builder.articles.evening import DAYS, STALLED, A, B, C, Evening, calls, usual

STORIES = Path(__file__).parents[2] / "stories"
NOW = datetime(2026, 6, 1, tzinfo=UTC)


@pytest.fixture
def catalog(tmp_path):
    """catalog("01-partial-overlap", ...): a catalogue file of some stories."""

    def entered(*stories):
        for story in stories:
            enter_batch(STORIES / story, into=tmp_path / "catalog.db", now=NOW)
        return tmp_path / "catalog.db"

    return entered


@pytest.fixture
def correct(tmp_path):
    """Apply one correction to a catalogue file."""

    def applied(path, line):
        file = tmp_path / "corrections.csv"
        file.write_text(f"table,key,column,was,now,reason,noticed_by,date\n{line}\n", encoding="utf-8")
        db = open_catalog(path, readonly=False)
        correct_file(file, catalog=db, now=NOW)
        db.close()

    return applied


def evidence_at(path, instant=NOW):
    return compose(evidence_of, load_contents(public_copy(path, as_of=instant), as_of=instant, sizes={}))


@pytest.fixture
def read(catalog):
    """read("01-partial-overlap", text=..., devices=...): the article, bound to those stories."""

    def bound(*stories, text, devices=(), pictures=None, instant=NOW):
        return bound_to(evidence_at(catalog(*stories), instant), text, devices=devices, pictures=pictures)

    return bound


@pytest.fixture(scope="session")
def messy(tmp_path_factory):
    """Two runs of A on two days, one of B with two clients in one call, one of C that broke off and a summary."""
    bench = Evening()
    usual("a-1", A, 9, bench=bench)
    usual("a-2", A, 3, day=DAYS[1], bench=bench)
    two_calls = [("call", "lap-2", calls(30)), ("call", "lap-3", calls(0))]
    bench.run("b-1", B, [("film", "lap-1", STALLED), *two_calls, ("pages", "lap-4", 40)])
    cut = [5] * 190
    broken = {"outcome": "did not finish", "ended_at_s": 380, "ended_by": "power cycle"}
    bench.run("c-1", C, [("film", "lap-1", cut), ("call", "lap-2", cut), ("pages", "lap-3", [200] * 20)], **broken)
    return evidence_at(bench.entered(tmp_path_factory.mktemp("messy")))


def bound_to(evidence, text, *, devices=(), pictures=None):
    article = Article(
        "first", "batch.toml", 1, "review", "A review", "2026-01-01T00:00:00Z", "articles/r.md", text, devices
    )
    return bind(article, evidence, pictures or {})


def texts(bound):
    """What the bindings of an article say, with plain spaces."""
    assert [str(problem) for problem in bound.problems] == []
    return [one.quote.text.replace("\u00a0", " ") for one in bound.bound]


def sentences(bound):
    return [str(problem) for problem in bound.problems]

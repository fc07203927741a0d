"""`check` and `enter` read what articles rest on; they say what whole copies of the catalogue say, to the letter.

Reading everything is kept in `foreseen_whole.py`. Articles hold random bindings of every kind, about hidden things, too;
batches bring articles, runs, devices and embargoes.
"""

import shutil
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime

import pytest

from builder.articles.resting import may_rest_on, resting_of
from builder.publishing.making.entry_check import CODE, REMARK, changed_by, foresee
from catalog import queries
from catalog.checking.batches import check
from catalog.connection import open_catalog
from catalog.entering import as_if_entered, enter_batch
from catalog.reading.batch import read_batch
from tests.benchmarks import generator
from tests.builder.publishing.foreseen_whole import Author, hides, more_runs, read_whole, said_of_whole

WITH_IT = "With this batch in it stops every build"


class Desk:
    """A catalogue, and what was looked at while batches came in."""

    def __init__(self, original, folder):
        self.path, self.seen = folder / "catalog.db", Counter()
        self._before = {}
        shutil.copy(original, self.path)

    def opened(self):
        return closing(open_catalog(self.path, readonly=True))

    def look(self, place, *, now):
        """Both ways, and every article that reads otherwise must be one that is read again.

        Gives the devices that the batch bears on, None for all.
        """
        with self.opened() as db:
            checked = check(read_batch(place), db)
            assert checked.problems == [], place.name
            short = [
                [(p.table, p.row, p.value, p.expected, p.code) for p in side if p.code in (CODE, REMARK)]
                for side in foresee(checked, db, now=now)
            ]
            if now not in self._before:
                self._before[now] = read_whole(db, now)[1]
            *long, otherwise = said_of_whole(checked, db, self._before[now], now=now)
            assert short == long, place.name
            with closing(as_if_entered(checked, db, now=now)) as whole:
                changed = changed_by(checked, db, whole, now=now)
            articles = queries.articles(db)
            read = {a.article_id for a in articles if may_rest_on(a, changed) and resting_of(a).rests_on(changed)}
        assert otherwise <= read, (place.name, changed)
        self.seen += Counter(
            problems=len(long[0]),
            remarks=sum(one[4] == REMARK for one in long[1]),
            broken=sum(WITH_IT in one[3] for one in long[1]),
            otherwise=len(otherwise),
            read=len(read),
            unread=len(articles) - len(read),
        )
        return changed

    def enter(self, place, *, now):
        self.look(place, now=now)
        enter_batch(place, into=self.path, now=now)
        self._before.clear()


def test_on_the_demo(demo_file, tmp_path):
    desk, now = Desk(demo_file, tmp_path), datetime(2026, 6, 20, 12, tzinfo=UTC)
    with desk.opened() as db:
        place = Author(db, 5).batch(tmp_path, "art", articles=4, published=datetime(2026, 1, 1, tzinfo=UTC))
    desk.enter(place, now=now)
    for device in (None, "tessarik-cupola"):
        with desk.opened() as db:
            place = more_runs(db, tmp_path, f"more-{device}", seed=1, device=device, elsewhere=device is not None)
        desk.look(place, now=now)
    assert all(desk.seen[what] for what in ("problems", "remarks", "otherwise", "unread")), desk.seen


@pytest.fixture(scope="module")
def generated_file(tmp_path_factory):
    """Eight devices, two of which are hidden for a while, with reviews, corrections and withdrawals."""
    folder = tmp_path_factory.mktemp("generated")
    generator.fill(folder / "batches", folder / "catalog.db", generator.LEAST, now=datetime(2026, 1, 1, tzinfo=UTC))
    return folder / "catalog.db"


RANKED = """
(= under client skarn-c3, band 5, width 80, direction down =)
It is (= rank pellduvik-firth-3, window middle =), and (= value pellduvik-firth-3, at 62 =).

(= verdict tovduvik-knoll-11 kelaskry-dene-5 =) (= claim pellduvik-firth-3 leads all, window near =)

(= ranking window middle : Which one? =)
"""


def test_on_a_generated_catalogue(generated_file, tmp_path):
    desk, now = Desk(generated_file, tmp_path), datetime(2026, 1, 10, 12, tzinfo=UTC)
    with desk.opened() as db:
        place = Author(db, 1).batch(tmp_path, "art", articles=4, published=datetime(2025, 1, 1, tzinfo=UTC))
    (place / "0.md").write_text(RANKED, encoding="utf-8")
    desk.enter(place, now=now)
    desk.look(generator.more_devices(tmp_path / "two", generator.LEAST, 2), now=now)
    desk.look(generator.one_article(tmp_path / "article", generator.LEAST)[0], now=now)
    with desk.opened() as db:
        anywhere = more_runs(db, tmp_path, "any", seed=0)
        elsewhere = more_runs(db, tmp_path, "elsewhere", seed=0, device="pellduvik-firth-3", elsewhere=True)
        reference = more_runs(db, tmp_path, "reference", seed=0, device="brammorra-adit-2")  # of the first house
    desk.look(anywhere, now=now)
    assert desk.look(elsewhere, now=now) == {"pellduvik-firth-3"}
    assert desk.look(reference, now=now) is None
    desk.look(hides("pellduvik-firth-3", tmp_path, "later", until="2026-03-01T09:00", covers="results"), now=now)
    assert all(desk.seen[what] for what in ("problems", "remarks", "broken", "otherwise", "unread")), desk.seen

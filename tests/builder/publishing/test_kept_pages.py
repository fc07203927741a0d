"""A build after a build makes only what changed, and what it leaves is what a build from nothing makes."""

import json
import os
import random
import re
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from functools import partial, wraps

import pytest

from builder import addresses
from builder.charts import face
from builder.observed import Inventory
from builder.pages.contents import load_contents
from builder.publishing.files import script_data
from builder.publishing.files.preview_images import preview_image
from builder.publishing.keeping.keeper import Keeper, store_of
from builder.publishing.keeping.unchanged import keep_report, surroundings
from builder.publishing.making.made import inventory_of
from builder.shipped import templates_folder
from catalog import queries
from catalog.connection import open_catalog
from catalog.entering import undo_batch
from catalog.visibility import public_copy
from tests.batches import device, things
from tests.builder.publishing.publishing_bench import EMBARGO, INSTANT, SECOND_BEFORE, Bench, batch, contents, runs

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)
SEQUENCES = int(os.environ.get("LIKELOSS_SEQUENCES", "4"))


class Builds:
    """Builds of one catalogue into one folder; `made` is how many pages the last one made anew."""

    def __init__(self, bench, build, tmp_path):
        self.bench, self.build, self.folder, self.made, self.count = bench, build, tmp_path, 0, 0

    def again(self, as_of=DAY, **others):
        self.made = 0

        def progress(text):
            if text.startswith("Composing"):
                self.made += int(text.split()[1])

        report = self.build(self.bench.catalog, self.bench.site, as_of=as_of, progress=progress, **others)
        return report, contents(self.bench.site)

    def from_nothing(self, as_of=DAY, **others):
        self.count += 1
        out = self.folder / f"whole-{self.count}"
        report = self.build(self.bench.catalog, out, as_of=as_of, **others)
        found = contents(out)
        shutil.rmtree(out)
        return report, found


@pytest.fixture
def builds(small_file, build, chart_cache, tmp_path):
    return Builds(Bench(small_file, tmp_path / "bench", chart_cache), build, tmp_path)


def test_nothing_changed_makes_nothing(builds):
    first, before = builds.again()
    assert builds.made == first.pages
    assert builds.again() == (first, before)
    assert builds.made == 0
    assert builds.from_nothing() == (first, before)


def test_one_new_run_makes_only_the_pages_that_show_it(builds, tmp_path):
    report, _ = builds.again()
    builds.bench.enter(
        batch(tmp_path, "later", title="A later day", runs_csv=runs(device="quillmast-vane", firmware="2.10"))
    )
    again = builds.again()
    assert 0 < builds.made < report.pages
    assert again == builds.from_nothing()


def test_the_picture_of_a_review_is_drawn_again_only_for_another_title_or_name(builds, monkeypatch, tmp_path):
    drawn = []

    @wraps(preview_image)
    def counted(results, site, article):
        drawn.append(article.title)
        return preview_image(results, site, article)

    monkeypatch.setattr(script_data, "preview_image", counted)
    builds.bench.sql("UPDATE site SET address = 'https://example.org/bench/'")
    _, before = builds.again()
    assert drawn == ["A<b: quiet"]
    builds.bench.enter(
        batch(tmp_path, "later", title="A later day", runs_csv=runs(device="tessarik-a-b", firmware="7.1"))
    )
    _, after = builds.again()
    assert drawn == ["A<b: quiet"]
    assert before != after
    builds.bench.sql("UPDATE device SET model = model || ' II' WHERE device_id = 'quillmast-sill'")
    report, renamed = builds.again()
    assert drawn == ["A<b: quiet"] * 2
    picture = addresses.preview_image("a-b-review")
    assert renamed[picture] != after[picture] == before[picture]
    assert builds.from_nothing() == (report, renamed)


def test_a_device_asks_for_groups_and_not_for_their_order(builds):
    """One run more may change the order of all groups, and no device's page with it."""
    builds.again()
    with closing(sqlite3.connect(store_of(builds.bench.cache, builds.bench.site))) as db:
        of_devices = [json.loads(looks) for (looks,) in db.execute("SELECT looks FROM entry WHERE key LIKE 'device %'")]
    assert of_devices
    assert any(path == "results.ranked" for looks in of_devices for path, _ in looks)
    assert not any(path == "results.groups" for looks in of_devices for path, _ in looks)


def test_a_device_and_a_review_look_at_their_own_places_and_pairs(builds):
    """One run more may move others in a ranking, and bring a pair; no page about other devices is made for that."""
    builds.again()
    with closing(sqlite3.connect(store_of(builds.bench.cache, builds.bench.site))) as db:
        kept = db.execute("SELECT key, looks FROM entry WHERE key LIKE 'device %' OR key LIKE 'review %'").fetchall()
    looked = {
        kind: {path for key, looks in kept if key.startswith(kind) for path, _ in json.loads(looks)}
        for kind in ("device", "review")
    }
    assert "results.standing" in looked["device"]
    assert "results.pairs_of" in looked["review"]
    assert not {"results.rankings", "results.groups", "results.pairs"} & looked["device"]
    assert "results.pairs" not in looked["review"]


def test_batches_that_come_later_do_not_change_what_was_there(builds, tmp_path):
    """Nothing of a batch says how many others there are."""
    with closing(public_copy(builds.bench.catalog, as_of=DAY)) as copy:
        before = {one.batch_id: one for one in queries.batches(copy)}
    builds.bench.enter(
        batch(tmp_path, "a-first-by-name", title="Later", runs_csv=runs(device="quillmast-vane", firmware="2.10"))
    )
    with closing(public_copy(builds.bench.catalog, as_of=DAY)) as copy:
        after = {one.batch_id: one for one in queries.batches(copy)}
    assert before.items() < after.items()


OF_THE_INSTANT = {"index.html", "data/index.html", "data/datapackage.json", "data/SHA256SUMS"}


def test_a_later_instant_changes_the_files_that_say_it_and_no_others(builds):
    report, before = builds.again()
    assert builds.again(DAY + timedelta(days=1))[1].keys() == before.keys()
    assert builds.made <= 2
    later = builds.from_nothing(DAY + timedelta(days=1))[1]
    assert {name for name in before if before[name] != later[name]} == OF_THE_INSTANT
    assert {name for name, content in later.items() if b"21 September 2025, 12:00 UTC" in content} == {
        "index.html",
        "data/index.html",
    }
    assert builds.again(DAY + timedelta(days=1)) == (report, later)


def test_a_page_says_the_day_of_its_newest_data(builds, tmp_path):
    """Of small_catalog.py: quillmast-vane was last tested on 20 June 2025, here again on 20 August; of tessarik-a-b a dispute of 3 June is the newest."""

    def days(site):
        pages = ("devices/quillmast-vane", "devices/tessarik-a-b", "method")
        found = (re.search(r"Newest data</dt>\s*<dd>([^<]*)", site[f"{page}/index.html"].decode()) for page in pages)
        return [match and match[1] for match in found]

    assert days(builds.again()[1]) == ["20 June 2025", "3 June 2025", None]
    table = runs(device="quillmast-vane", firmware="2.10")
    builds.bench.enter(batch(tmp_path, "later", title="A later day", runs_csv=table))
    assert days(builds.again()[1]) == ["20 August 2025", "3 June 2025", None]


def test_the_day_a_unit_goes_back_makes_only_the_pages_that_say_so(builds):
    # The unit of tessarik-a-b goes back on 1 August 2025.
    day = datetime(2025, 7, 30, 12, tzinfo=UTC)
    builds.again(day)
    builds.again(day + timedelta(days=1))
    usual = builds.made
    again = builds.again(day + timedelta(days=2))
    assert usual < builds.made
    assert b"no retest possible since 1 August 2025" in again[1]["devices/tessarik-a-b/index.html"]
    assert again == builds.from_nothing(day + timedelta(days=2))


def test_other_templates_make_every_page_anew(builds, tmp_path):
    report, _ = builds.again()
    templates = tmp_path / "templates"
    shutil.copytree(templates_folder(), templates)
    foot = templates / "partials" / "foot.html"
    foot.write_text(foot.read_text(encoding="utf-8") + "<!-- another foot -->\n", encoding="utf-8")
    again = builds.again(templates=templates)
    assert builds.made == report.pages
    assert b"another foot" in again[1]["index.html"]
    foot.write_text(foot.read_text(encoding="utf-8") + "<!-- and one more -->\n", encoding="utf-8")  # where it lies
    again = builds.again(templates=templates)
    assert builds.made == report.pages
    assert b"and one more" in again[1]["index.html"]


HARMS = {
    "lost its table": "DROP TABLE entry",
    "another table": "DROP TABLE entry; CREATE TABLE entry (key TEXT PRIMARY KEY, page TEXT)",
    "lost looks": "UPDATE entry SET looks = '[]' WHERE rowid % 3 = 0",
    "looks are no looks": "UPDATE entry SET looks = '{' WHERE rowid % 3 = 0",
    "other content": "UPDATE entry SET content = CAST(replace(content, 'href', 'HREF') AS BLOB) WHERE rowid % 3 = 0",
    "keys changed places": "UPDATE entry SET key = CASE rowid % 2 WHEN 0 THEN key || '-' ELSE key END",
}


@pytest.mark.parametrize("harm", ["cut", "emptied", "is none", *HARMS])
def test_a_damaged_store_costs_time_and_nothing_else(builds, harm):
    report, before = builds.again()
    store = store_of(builds.bench.cache, builds.bench.site)
    if harm == "cut":
        store.write_bytes(store.read_bytes()[: store.stat().st_size // 3])
    elif harm == "emptied":
        store.write_bytes(b"")
    elif harm == "is none":
        store.write_bytes(b"not a database, " * 500)
    else:
        with sqlite3.connect(store) as db:
            db.executescript(HARMS[harm])
    assert builds.again() == (report, before)
    builds.again()
    assert builds.made == 0


def test_two_builds_with_one_store_leave_each_page_with_what_it_was_made_from(builds, tmp_path):
    """As two first builds at once do, the second keeps its pages beside those that the first has just kept."""
    with_hidden = batch(
        tmp_path, "hidden", more=HIDDEN, title="To come", runs_csv=runs(device="tessarik-cairn", firmware="0.9")
    )
    builds.bench.enter(with_hidden)
    builds.again(SECOND_BEFORE)
    store = store_of(builds.bench.cache, builds.bench.site)
    before = tmp_path / "before.db"
    shutil.copy(store, before)
    builds.again(INSTANT)

    def keeper(store):
        copy = public_copy(builds.bench.catalog, as_of=SECOND_BEFORE)
        contents = load_contents(copy, as_of=SECOND_BEFORE, sizes={})
        return Keeper(store, surroundings(templates_folder()), inventory_of(contents))

    pages = keeper(before).fresh()
    assert pages
    half = dict(list(pages.items())[::2])
    keeper(store).keep(half, instead=False)
    assert half.items() <= keeper(store).fresh().items()
    assert builds.again(SECOND_BEFORE) == builds.from_nothing(SECOND_BEFORE)
    assert builds.again(INSTANT) == builds.from_nothing(INSTANT)


def test_a_cache_that_cannot_be_written_stops_nothing(builds, tmp_path):
    (tmp_path / "a file").write_text("no folder", encoding="utf-8")
    store = tmp_path / "a file" / "kept.db"
    keeper = Keeper(store, "", Inventory(None))
    keeper.keep({"a": keeper.entry("a", b"one", ())}, instead=True)
    assert keeper.fresh() == {}
    keep_report(builds.again()[0], store=store, templates=templates_folder(), inputs="inputs", files="files")


def test_a_store_that_another_build_writes_is_left_to_it(tmp_path, monkeypatch):
    store = tmp_path / "kept.db"
    keeper = Keeper(store, "", Inventory(None))
    one = {"a": keeper.entry("a", b"one", ())}
    keeper.keep(one, instead=True)
    monkeypatch.setattr(sqlite3, "connect", partial(sqlite3.connect, timeout=0))
    with closing(sqlite3.connect(store)) as db:
        db.execute("BEGIN EXCLUSIVE")
        keeper.keep({"b": keeper.entry("b", b"two", ())}, instead=True)
        db.rollback()
    assert keeper.fresh() == one


HIDDEN = things(device=[device("tessarik-cairn", firmware=[{"version": "0.9"}], embargo=EMBARGO)])


def entered(bench, chance, folder, number):
    name, firmware = chance.choice([("quillmast-sill", "1.0"), ("quillmast-vane", "2.10"), ("tessarik-a-b", "7.1")])
    table = runs(device=name, firmware=firmware, height=chance.randint(1650, 1800))
    bench.enter(batch(folder, f"entered-{number}", title=f"Day {number}", runs_csv=table))


def hidden(bench, chance, folder, number):
    table = runs(device="tessarik-cairn", firmware="0.9", height=chance.randint(1650, 1800))
    bench.enter(batch(folder, f"hidden-{number}", more=HIDDEN, title="To come", runs_csv=table))


def corrected(bench, chance, folder, number):
    (at, value) = chance.choice(
        bench.sql(
            "SELECT repeat, throughput_mbit_s FROM run WHERE device_id = 'quillmast-vane' AND spot = 'S2' AND "
            "firmware = '2.10' AND session_id = '2025-06-20' ORDER BY repeat"
        )
    )
    key = (
        "device=quillmast-vane;unit=A;firmware=2.10;client=wrenlet-u2;driver=3.11;session=2025-06-20;band=5;"
        f"width_mhz=80;direction=down;spot=S2;repeat={at}"
    )
    bench.correct(f"runs,{key},throughput,{value:g},{value - chance.randint(1, 9):g},mistyped,a reader,2025-08-30")


def renamed(bench, chance, folder, number):
    ((was,),) = bench.sql("SELECT model FROM device WHERE device_id = 'quillmast-vane'")
    bench.correct(f"device,id=quillmast-vane,model,{was},Vane {number},renamed by its maker,maker,2025-08-30")


def undone(bench, chance, folder, number):
    last = bench.sql("SELECT batch_id FROM batch WHERE batch_id LIKE 'entered-%' ORDER BY sequence DESC LIMIT 1")
    if last:
        db = open_catalog(bench.catalog, readonly=False)
        undo_batch(last[0][0], catalog=db)
        db.close()


def template_changed(bench, chance, folder, number):
    foot = bench.templates / "partials" / "foot.html"
    foot.write_text(foot.read_text(encoding="utf-8") + f"<!-- foot {number} -->\n", encoding="utf-8")


def face_changed(bench, chance, folder, number):
    one, other = (face.folder(bench.templates) / name for name in face.FILES.values())
    was = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(was)


INSTANTS = [SECOND_BEFORE, INSTANT, DAY, DAY + timedelta(hours=1), DAY + timedelta(days=200)]


@pytest.mark.parametrize("seed", range(SEQUENCES))
def test_whatever_happens_it_is_the_build_from_nothing(builds, tmp_path, seed):
    """Whatever happens includes that nothing does, and that only the instant moves, forth or back."""
    chance = random.Random(seed)
    acts = [entered, hidden, corrected, renamed, undone, template_changed, face_changed]
    builds.bench.templates = tmp_path / "templates"
    shutil.copytree(templates_folder(), builds.bench.templates)
    builds.again(SECOND_BEFORE)
    for number in range(5):
        for act in chance.sample(acts, k=chance.randint(0, 2)):
            act(builds.bench, chance, tmp_path / f"acts-{number}", number)
        as_of, templates = chance.choice(INSTANTS), builds.bench.templates
        assert builds.again(as_of, templates=templates) == builds.from_nothing(as_of, templates=templates)

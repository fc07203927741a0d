"""A second build of the same is answered without reading; whatever changed, is seen."""

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from builder.publishing.keeping.keeper import store_of
from builder.publishing.keeping.unchanged import built_before, files_of, inputs_of, keep_report
from builder.publishing.making import build as making_build
from builder.publishing.making.build import build_site
from builder.shipped import templates_folder
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs
from tests.conftest import SMALL_INSTANT


@pytest.fixture
def built(small_file, tmp_path):
    """A bench whose site is built with a cache of its own, and the report of that."""
    bench = Bench(small_file, tmp_path / "bench", tmp_path / "cache")
    return bench, build(bench)


def build(bench, **others):
    keywords = {"as_of": SMALL_INSTANT, "jobs": 1, "progress": lambda _: None} | others
    return build_site(bench.catalog, out=bench.site, cache=bench.cache, **keywords)


def before(bench, **others):
    keywords = {"out": bench.site, "as_of": SMALL_INSTANT, "cache": bench.cache} | others
    return built_before(bench.catalog, **keywords)


def test_the_same_again_is_known_and_its_report_too(built):
    bench, report = built
    assert before(bench) == report
    site = contents(bench.site)
    assert build(bench) == report
    assert contents(bench.site) == site
    assert before(bench) == report


def test_another_question_is_none_that_was_answered(built, tmp_path):
    bench, _ = built
    assert before(bench, as_of=SMALL_INSTANT + timedelta(seconds=1)) is None
    assert before(bench, stills=True) is None
    assert before(bench, out=tmp_path / "elsewhere") is None
    assert before(bench, cache=None) is None


def test_whatever_is_entered_is_seen(built, tmp_path):
    bench, _ = built
    bench.enter(batch(tmp_path, "later", runs_csv=runs()))
    assert before(bench) is None


def test_what_is_restored_is_not_taken_for_what_was_written_while_a_build_began(built, tmp_path):
    bench, _ = built
    kept = shutil.copy2(bench.catalog, tmp_path / "kept.db")
    (bench.site / "stray.txt").write_text("by hand")
    assert before(bench) is None  # the catalogue is as it was, the site is not
    bench.sql("UPDATE device SET model = model || ' II' WHERE device_id = 'quillmast-sill'")
    build(bench)
    shutil.copy2(kept, bench.catalog)
    assert before(bench) is None


def test_what_is_written_while_a_build_copies_is_not_kept_as_known(built, monkeypatch):
    bench, _ = built

    def taken_late(catalog, **others):
        bench.sql("UPDATE device SET model = model || ' II' WHERE device_id = 'quillmast-sill'")
        return inputs_of(catalog, **others)

    bench.sql("UPDATE device SET model = model || ' III' WHERE device_id = 'quillmast-vane'")
    with monkeypatch.context() as patch:
        patch.setattr(making_build, "inputs_of", taken_late)
        build(bench)
    assert before(bench) is None


@pytest.mark.parametrize("touch", ["changed", "gone", "added", "same size"])
def test_a_site_that_somebody_touched_is_built_again(built, touch):
    bench, report = built
    page = bench.site / "index.html"
    site = contents(bench.site)
    if touch == "gone":
        page.unlink()
    elif touch == "added":
        (bench.site / "more.html").write_text("more", encoding="utf-8")
    elif touch == "changed":
        page.write_text("other", encoding="utf-8")
    else:
        page.write_bytes(page.read_bytes()[::-1])
        later = page.stat().st_mtime_ns + 1
        os.utime(page, ns=(later, later))
    assert before(bench) is None
    assert build(bench) == report
    assert contents(bench.site) == site


def test_a_report_that_was_changed_is_none(built):
    bench, report = built
    with closing(sqlite3.connect(store_of(bench.cache, bench.site))) as db, db:
        changed = db.execute(
            "UPDATE entry SET content = CAST(replace(content, '1', '2') AS BLOB) WHERE key = 'report'"
        ).rowcount
    assert changed == 1
    assert before(bench) is None
    assert build(bench) == report
    assert before(bench) == report


def test_a_catalogue_that_is_gone_is_not_what_it_was(built):
    bench, report = built
    shutil.move(bench.catalog, bench.folder / "elsewhere.db")
    assert before(bench) is None
    store = store_of(bench.cache, bench.site)
    # As if it could not have been read then, either.
    keep_report(report, store=store, templates=templates_folder(), inputs="", files=files_of(bench.site))
    assert before(bench) is None

"""A file that did not change is the very file of the site before, and nothing that is done to either harms the other."""

import os
import shutil
from contextlib import closing
from datetime import timedelta

import pytest

from builder.publishing.files.linking import Stage
from catalog.connection import open_catalog
from catalog.exporting.verifying import verify
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs
from tests.builder.publishing.test_kept_pages import OF_THE_INSTANT
from tests.conftest import SMALL_INSTANT

DAY = timedelta(days=1)


def files(folder):
    """Every file of a site: its inode and its time."""
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {p.relative_to(folder).as_posix(): (p.stat().st_ino, p.stat().st_mtime_ns) for p in paths}


@pytest.fixture
def bench(small_file, tmp_path, chart_cache):
    return Bench(small_file, tmp_path / "bench", chart_cache)


def test_an_unchanged_file_is_the_same_file(bench):
    bench.publish(SMALL_INSTANT)
    before = files(bench.site)
    bench.publish(SMALL_INSTANT + DAY)
    after = files(bench.site)
    assert {name for name in after if after[name] != before.get(name)} == OF_THE_INSTANT


def test_without_a_cache_files_are_linked_too(bench, build):
    build(bench.catalog, bench.site, cache=None)
    before = files(bench.site)
    build(bench.catalog, bench.site, cache=None)
    assert files(bench.site) == before


def test_where_nothing_can_be_linked_copies_keep_their_times(bench, monkeypatch):
    def refused(*_, **__):
        raise PermissionError("no links here")

    bench.publish(SMALL_INSTANT)
    before, inside = files(bench.site), contents(bench.site)
    monkeypatch.setattr(os, "link", refused)
    bench.publish(SMALL_INSTANT + DAY)
    after = files(bench.site)
    assert {name for name in after if after[name][1] != before[name][1]} == OF_THE_INSTANT
    assert not {inode for inode, _ in after.values()} & {inode for inode, _ in before.values()}
    assert {name for name, was in inside.items() if (bench.site / name).read_bytes() != was} == OF_THE_INSTANT


def edited(page):
    page.write_text("edited by hand", encoding="utf-8")


def edited_unseen(page):
    """As many bytes, and the time as it was."""
    state, text = page.stat(), page.read_text(encoding="utf-8")
    page.write_text(text.replace("Method", "method"), encoding="utf-8")
    os.utime(page, ns=(state.st_atime_ns, state.st_mtime_ns))


def swapped_for_a_link(page):
    elsewhere = page.parents[2] / "elsewhere.html"
    page.rename(elsewhere)
    page.symlink_to(elsewhere)


def made_private(page):
    page.chmod(0o600)


def turned_into_a_folder(page):
    page.unlink()
    page.mkdir()


def lost(page):
    shutil.rmtree(page.parent)


ACTS = {
    "method": edited,
    "glossary": edited_unseen,
    "features": swapped_for_a_link,
    "power": made_private,
    "insides": turned_into_a_folder,
    "collapses": lost,
}


def test_what_was_done_to_the_site_by_hand_is_not_carried_over(bench, build):
    build(bench.catalog, bench.site)
    wanted, usual = contents(bench.site), (bench.site / "index.html").stat().st_mode
    for name, act in ACTS.items():
        act(bench.site / name / "index.html")
    build(bench.catalog, bench.site, as_of=SMALL_INSTANT + DAY)
    pages = [bench.site / name / "index.html" for name in ACTS]
    assert [page.relative_to(bench.site).as_posix() for page in pages if page.is_symlink()] == []
    assert {page.stat().st_mode for page in pages} == {usual}
    found = contents(bench.site)
    assert {name for name in wanted if found.get(name) != wanted[name]} == OF_THE_INSTANT


def corrected(bench):
    bench.correct(
        "runs,device=quillmast-vane;unit=A;firmware=2.10;client=wrenlet-u2;driver=3.11;session=2025-06-20;band=5;"
        f"width_mhz=80;direction=down;spot=S2;repeat=1,throughput,{value(bench):g},{value(bench) - 5:g},"
        "mistyped,a reader,2025-06-29"
    )


def test_a_published_site_goes_on_as_it_is_whatever_becomes_of_the_next(bench, small_file, tmp_path):
    """Published, corrected, published, rolled back, published: each version is whole, and what it is without all that."""
    bench.publish(SMALL_INSTANT)
    first = contents(bench.site)
    corrected(bench)
    bench.publish(SMALL_INSTANT + DAY)
    second = contents(bench.site)
    earlier = bench.site.with_name("site.earlier")
    assert contents(earlier) == first
    assert bench.roll_back(SMALL_INSTANT + DAY) == earlier
    assert (contents(bench.site), contents(earlier)) == (first, second)
    bench.publish(SMALL_INSTANT + 2 * DAY)
    third = contents(bench.site)
    assert contents(earlier) == first
    with closing(open_catalog(bench.catalog, readonly=True)) as db:
        assert verify(db) == []
    shutil.rmtree(earlier)
    assert contents(bench.site) == third

    plain = Bench(small_file, tmp_path / "plain", tmp_path / "another cache")
    plain.publish(SMALL_INSTANT)
    corrected(plain)
    plain.publish(SMALL_INSTANT + 2 * DAY)
    assert contents(plain.site) == third


def value(bench):
    ((rate,),) = bench.sql(
        "SELECT throughput_mbit_s FROM run WHERE device_id = 'quillmast-vane' AND spot = 'S2' AND repeat = 1 AND "
        "firmware = '2.10' AND session_id = '2025-06-20'"
    )
    return rate


def test_a_stage_never_writes_into_a_file_of_the_site_before(tmp_path):
    before, stage = tmp_path / "before", tmp_path / "stage"
    for folder in (before, stage):
        folder.mkdir()
    for name in "ab":
        (before / name).write_bytes(b"old")
    site = Stage.of(stage, before)
    site.write("a", b"old")
    (stage / "b").write_bytes(b"old")
    site.settle()
    assert [(stage / name).samefile(before / name) for name in "ab"] == [True, True]
    assert sorted(path.name for path in stage.iterdir()) == ["a", "b"]
    (tmp_path / "third").mkdir()
    site = Stage.of(tmp_path / "third", stage)
    site.write("a", b"new")
    site.write("b", b"old")
    site.write("b", b"new")
    for name in "ab":
        assert ((before / name).read_bytes(), (tmp_path / "third" / name).read_bytes()) == (b"old", b"new")


def test_one_run_more_leaves_the_rest_of_the_site_in_place(bench, tmp_path):
    bench.publish(SMALL_INSTANT)
    before = files(bench.site)
    bench.enter(batch(tmp_path, "later", title="A later day", runs_csv=runs(device="quillmast-vane", firmware="2.10")))
    bench.publish(SMALL_INSTANT + 90 * DAY)
    after = files(bench.site)
    same = {name for name in after if after[name] == before.get(name)}
    assert len(same) > len(after) / 3  # of a site of three devices
    assert "devices/quillmast-vane/index.html" not in same

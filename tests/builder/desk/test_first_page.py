"""The first page waits for what it shows alone; the rest follows, and nobody waits for what takes long beside it."""

import asyncio
from functools import partial
from threading import Event

import pytest

from builder import shipped
from builder.desk import composing, desk, material
from builder.desk.answering import Answering
from builder.desk.desk import Desk
from builder.desk.first_copy import begun_copy
from builder.desk.recent import Recent
from builder.desk.serving import Preview
from builder.desk.when_asked import PARTS
from builder.pages.worked_out import WorkedOut
from tests.builder.desk.previewed import CAIRN, REVIEW, SECOND_BEFORE, WRONG, Look, batch_with_article
from tests.builder.publishing.publishing_bench import runs

NOT_SHOWN = {"pairs", "near", "pairs_of", "mix_results", "workload_results", "longrun_results", "gaps_of", "proposals"}


def begun(catalog, *batches, as_of=SECOND_BEFORE):
    """A desk that has begun and not gone on."""
    started = Desk(begun_copy(catalog, batches, as_of=as_of), shipped.templates_folder())
    started.begin()
    return started


def there(started):
    return set(PARTS) & started.state.plain.results.__dict__.keys()


def file(started, address):
    return started.pages.submit(started.state.composer.file, address).result()


@pytest.fixture
def place(tmp_path):
    return batch_with_article(tmp_path)


def test_the_start_page_waits_for_nothing_it_does_not_show(demo_file, demo_instant):
    started = begun(demo_file, as_of=demo_instant)
    assert file(started, "index.html") == Look(demo_file, as_of=demo_instant).file("index.html")
    assert "rankings" in there(started)
    assert not NOT_SHOWN & there(started)
    file(started, "method/index.html")
    assert not NOT_SHOWN & there(started)


def test_once_a_page_was_answered_all_is_worked_out(demo_file, demo_instant):
    started, settled = begun(demo_file, as_of=demo_instant), Event()
    started.settled = settled.set
    started.pages.submit(Answering(started).answer, "/").result()
    assert settled.wait(60)
    assert there(started) == set(PARTS)


def test_a_page_waits_for_what_it_shows_while_others_are_worked_out(demo_file, demo_instant, monkeypatch):
    started, working, go_on = begun(demo_file, as_of=demo_instant), Event(), Event()
    file(started, "index.html")

    def slow(_):
        working.set()
        assert go_on.wait(60)
        return []

    monkeypatch.setattr(WorkedOut, "bridges", property(slow))
    started.go_on()
    assert working.wait(60)
    assert b"<h1" in file(started, "index.html")
    assert b"<h1" in file(started, "glossary/index.html")
    waiting = started.pages.submit(started.state.composer.file, "pairs/index.html")
    go_on.set()
    assert b"<h1" in waiting.result()


def test_what_is_wrong_in_an_article_is_told_after_the_first_page(small_file, place):
    (place / "articles" / "cairn.md").write_text(WRONG)
    started, settled, changes = begun(small_file, place), Event(), []
    started.settled, started.changed = settled.set, lambda: changes.append(started.state.troubles)
    answering = Answering(started)
    first = started.pages.submit(answering.answer, "/").result()
    assert b"<h1" in first.content
    assert b"desk-panel" not in first.content
    assert settled.wait(60)
    assert ["cannot be published as it stands" in one.title for one in changes[-1]] == [True]
    assert b"2 problems" in started.pages.submit(answering.answer, "/").result().content


def test_what_cannot_be_worked_out_is_told_and_the_rest_is_shown(small_file, place, monkeypatch):
    def broken(_):
        raise OSError(5, "Input/output error", "catalog.db")

    monkeypatch.setattr(WorkedOut, "gaps_of", property(broken))
    look = Look(small_file, place)
    assert look.troubles() == ["Not everything could be worked out: Could not use catalog.db: input/output error."]
    assert "<h1" in look.page("index.html")


def test_a_page_that_is_composed_over_an_edit_still_has_its_copy(small_file, place):
    started, ready, go_on = begun(small_file, place), Event(), Event()
    old = started.state.composer

    def compose():
        ready.set()
        assert go_on.wait(60)
        return old.file("workloads/index.html")

    page = started.pages.submit(compose)
    assert ready.wait(60)
    (place / "runs.csv").write_text(runs(device="tessarik-cairn", firmware="0.9.77", height=1900.0))
    started.maker.submit(started.follow, [place / "runs.csv"]).result()
    assert started.state.composer is not old
    go_on.set()
    assert b"<h1" in page.result()
    started.pages.submit(int).result()
    started.maker.submit(int).result()
    with pytest.raises(Exception, match="closed"):
        started.maker.submit(old.material.measured.copy.execute, "SELECT 1").result()


def test_other_pages_are_answered_while_downloads_are_made(small_file, place, monkeypatch):
    making, go_on = Event(), Event()

    def slow(stored, about):
        making.set()
        assert go_on.wait(60)
        return material.downloads_of(stored, about)

    monkeypatch.setattr(desk, "downloads_of", slow)
    look = Look(small_file, place)
    preview = Preview(look.desk, port=1)

    async def story():
        def ask(path):
            return asyncio.create_task(preview._from(preview.answering.answer, path))

        page, table = ask("/data/"), ask("/data/runs.csv")
        shown = asyncio.create_task(preview._from(preview.answering.shown, "data/index.html"))
        await asyncio.to_thread(making.wait, 60)
        other = await asyncio.wait_for(ask(f"/{CAIRN}"), 60)
        edit = place / "articles" / "cairn.md"
        edit.write_text(edit.read_text() + "\nHeard meanwhile.\n")
        await asyncio.wait_for(asyncio.wrap_future(look.desk.maker.submit(look.desk.follow, [edit])), 60)
        review = await asyncio.wait_for(ask(f"/{REVIEW}"), 60)
        assert not page.done()
        assert not table.done()
        go_on.set()
        return other, review, await page, await table, await shown

    other, review, page, table, shown = asyncio.run(story())
    assert b"Tessarik Cairn" in other.content
    assert b"Heard meanwhile." in review.content
    assert b"<h1" in page.content
    assert table.content.startswith(b"at_utc,device,")
    assert shown


def test_downloads_that_failed_are_told_and_tried_again(small_file, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device", "likeloss.db")

    look = Look(small_file)
    with monkeypatch.context() as patched:
        patched.setattr(desk, "downloads_of", full)
        answer = look.answer("/data/runs.csv")
        assert (answer.status, answer.content) == (500, b"Could not use likeloss.db: no space left on device.")
        assert "no space left on device" in look.page("data/index.html")
    assert look.status("/data/runs.csv") == 200


def test_what_was_made_is_kept_up_to_a_size(small_file, place, monkeypatch):
    before = Look(small_file, place).every_page()
    monkeypatch.setattr(composing, "Recent", partial(Recent, 200_000))
    look = Look(small_file, place)
    made = look.desk.state.composer._made
    assert sum(map(len, before.values())) > 3 * 200_000
    for _ in range(2):  # the second time pages are composed again that had to go
        for address, page in before.items():
            assert look.file(address) == page, address
            assert made.bytes <= 200_000 or len(made._made) == 1
    assert made.bytes == sum(len(content) for files, _ in made._made.values() for content in files.values())


def test_the_last_asked_for_stays_longest():
    kept = Recent(10)
    kept.keep("a", {"a": b"1234", "a2": b"1"}, "about a")
    kept.keep("b", {"b": b"1234"}, None)
    assert kept.file("a") == b"1234"
    kept.keep("c", {"c": b"1234"}, None)
    assert (kept.file("a"), kept.file("b"), kept.beside("a2")) == (b"1234", None, "about a")
    kept.keep("large", {"large": b"12345678901"}, None)
    assert (kept.file("a"), kept.file("c"), kept.file("large")) == (None, None, b"12345678901")
    assert kept.bytes == 11


def test_a_file_that_two_bring_goes_with_the_one_that_brought_it_last():
    kept = Recent(10)
    kept.keep("a", {"both": b"12", "a": b"1"}, None)
    kept.keep("b", {"both": b"34", "b": b"1"}, None)
    assert kept.file("a") == b"1"
    kept.keep("c", {"c": b"12345"}, None)
    assert (kept.file("both"), kept.file("b")) == (None, None)
    kept.keep("d", {"d": b"1234567890"}, None)
    assert (kept.file("a"), kept.file("c"), kept.bytes) == (None, None, 10)

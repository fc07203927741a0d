"""What follows an edit: the page as it is now, or what is wrong with it, in the words that check and build use."""

import asyncio
import os
import re
import shutil
from pathlib import Path

import pytest

from builder import shipped
from builder.desk.batches import watched_folders
from builder.desk.following import watch
from builder.desk.watched import counts, states
from catalog.checking import logfiles
from catalog.reading.plainlogs import read_plain_log
from tests import workbooks
from tests.builder.desk.previewed import CAIRN, REVIEW, TEXT, WRONG, Look, batch_with_article
from tests.builder.publishing.publishing_bench import Bench, batch, runs


@pytest.fixture
def place(tmp_path):
    return batch_with_article(tmp_path)


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


@pytest.fixture
def look(bench, place):
    return Look(bench.catalog, place)


def test_an_article_is_shown_as_it_is_typed(look, place):
    article = place / "articles" / "cairn.md"
    assert "heard in the cellar" not in look.page(REVIEW)
    article.write_text(TEXT + "\nIt was heard in the cellar.\n")
    measured = look.desk.state.plain.measured
    look.follow(article)
    assert "heard in the cellar" in look.page(REVIEW)
    assert look.troubles() == []
    assert look.desk.state.plain.measured is measured  # nothing was copied, nothing read again


def test_what_is_wrong_in_an_article_stands_at_its_place(look, place):
    article = place / "articles" / "cairn.md"
    article.write_text(WRONG)
    look.follow(article)
    claim, link = look.troubles()
    assert "cairn/articles/cairn.md line 1: (= claim quillmast-sill leads tessarik-cairn" in claim
    assert "line 3" in link
    assert "there is no page devices/none.html" in link
    page = look.page(REVIEW)
    text = page.split('<article class="review-text">', 1)[1].split("</article>", 1)[0]
    first, second = text.split("</p>")[:2]
    assert 'Cairn is ahead: <strong class="wrong" id="wrong-in-line-1">Line 1: (= claim' in first
    assert 'here.  <strong class="wrong" id="wrong-in-line-3">' in second.replace("here. <", "here.  <")
    assert f'<a href="/{REVIEW}#wrong-in-line-1">' in page
    assert "cannot be published as it stands: 2 problems" in look.page("index.html")
    article.write_text(TEXT)
    look.follow(article)
    assert look.troubles() == []
    assert "desk-panel" not in look.page(REVIEW)


def test_a_note_never_lands_inside_of_a_tag(look, place):
    article = place / "articles" / "cairn.md"
    article.write_text(TEXT + '\n[here](../devices/none.html "a title of\ntwo lines")\n')
    look.follow(article)
    (link,) = look.troubles()
    (line,) = re.findall(r"line (\d+)", link)
    page = look.page(REVIEW)
    assert page.count(f'id="wrong-in-line-{line}"') == 1
    assert not re.search(r'="[^"<>]*<strong', page)


def test_a_half_written_batch_leaves_what_was_there(look, place):
    table, toml = place / "runs.csv", place / "batch.toml"
    whole, before = table.read_text(), look.file(CAIRN)
    for path, half in (
        (table, whole[: whole.rindex("2025-08-20T") + 6]),
        (table, ""),
        (toml, toml.read_text()[:60]),
        (toml, ""),
    ):
        was = path.read_bytes()
        path.write_text(half)
        look.follow(path)
        assert look.troubles()
        assert look.file(CAIRN) == before
        assert "desk-panel" in look.page(CAIRN)
        path.write_bytes(was)
        look.follow(path)
        assert look.troubles() == []
    table.unlink()
    look.follow(table)
    assert look.file(CAIRN) != before  # a batch may have no runs
    table.write_text(whole)
    look.follow(table)
    assert look.file(CAIRN) == before
    shutil.rmtree(place)
    look.follow(place / "batch.toml")
    assert look.file(CAIRN) == before
    assert "does not exist" in look.page("index.html")


def test_two_edits_at_once(look, place):
    article, table = place / "articles" / "cairn.md", place / "runs.csv"
    article.write_text(TEXT + "\nMeasured anew.\n")
    table.write_text(runs(device="tessarik-cairn", firmware="0.9.77", height=1900.0))
    look.follow(article, table)
    page = look.page(REVIEW)
    assert "Measured anew." in page
    assert re.search(r">700(?:\xa0| )?(?:Mbit/s)?</a>", page), re.findall(
        r"class=.bound.[^/]*", page
    )  # 1900 - 20 · 60 at 60 dB, by hand
    assert look.troubles() == []


def test_a_refused_batch_is_not_in_it_from_the_start(bench, place):
    (place / "runs.csv").write_text("when,device\n2025-08-20T09:00:00Z,tessarik-cairn\n")
    look = Look(bench.catalog, place)
    assert look.status(f"/{CAIRN}") == 404
    assert "to settle" in look.page("index.html")
    (place / "runs.csv").write_text(runs(device="tessarik-cairn", firmware="0.9.77"))
    look.follow(place / "runs.csv")
    assert look.status(f"/{CAIRN}") == 200


def test_what_another_process_enters_is_shown(bench, look, place, tmp_path):
    bench.enter(batch(tmp_path, "more", runs_csv=runs(height=1650.0)))
    look.follow(bench.catalog)
    fresh = Look(bench.catalog, place)
    assert look.every_page() == fresh.every_page()


def test_edits_come_to_what_a_new_start_comes_to(bench, look, place):
    table, whole = place / "runs.csv", (place / "runs.csv").read_text().splitlines()
    for lines in (
        whole[:-4],
        [
            *whole[:2],
            whole[2].replace(",finished,", ",did not finish,").replace(whole[2].split(",")[6], ""),
            *whole[3:],
        ],
        whole,
    ):
        table.write_text("\n".join(lines) + "\n")
        look.follow(table)
        assert look.troubles() == []
    fresh = Look(bench.catalog, place)
    assert look.every_page() == fresh.every_page()


def test_an_entered_article_is_shown_as_edited_and_told_to_need_a_correction(bench, place):
    bench.enter(place)
    look = Look(bench.catalog, place)
    article = place / "articles" / "cairn.md"
    article.write_text(TEXT + "\nBetter words.\n")
    look.follow(article)
    assert "Better words." in look.page(REVIEW)
    assert look.troubles()


def test_a_broken_template_shows_pages_as_they_were(bench, tmp_path):
    templates = tmp_path / "templates"
    shutil.copytree(shipped.templates_folder(), templates)
    look = Look(bench.catalog, templates=templates)
    before = look.file("devices/index.html")
    look.page("devices/index.html")
    base, sheet = templates / "base.html", templates / "css" / "tokens.css"
    text, style = base.read_text(), sheet.read_text()
    base.write_text(text.replace("<main", "{% if %}<main", 1))
    look.follow(base)
    page = look.page("devices/index.html")
    assert "The template base.html is broken at line" in page
    assert before.decode().split("<main", 1)[1] in page
    assert "cannot be composed" in look.page("method/index.html")
    assert look.status("/method/index.html") == 500
    sheet.unlink()
    base.write_text(text)
    look.follow(base, sheet)
    assert "tokens.css is missing" in look.page("devices/index.html")
    assert look.file("devices/index.html") == before
    sheet.write_text(style + "\nmain { outline: 0 }\n")
    look.follow(sheet)
    assert "desk-panel" not in look.page("devices/index.html")
    assert look.file("devices/index.html") != before  # the style sheet's name says what is in it


def test_a_template_that_is_broken_from_the_start_is_named(bench, tmp_path):
    templates = tmp_path / "templates"
    shutil.copytree(shipped.templates_folder(), templates)
    base = templates / "base.html"
    text = base.read_text()
    base.write_text(text.replace("<main", "{% if %}<main", 1))
    look = Look(bench.catalog, templates=templates)
    assert "The template base.html is broken at line" in look.page("index.html")
    base.write_text(text)
    look.follow(base)
    assert "desk-panel" not in look.page("index.html")


def test_a_catalogue_that_goes_is_told(bench, look):
    before = look.file(CAIRN)
    bench.catalog.write_bytes(b"no catalogue")
    look.follow(bench.catalog)
    assert "is not a catalogue, or it is damaged" in look.page(CAIRN)
    assert look.file(CAIRN) == before


@pytest.mark.parametrize(
    ("name", "does"),
    [
        ("batch/runs.csv", True),
        ("batch/articles/a.md", True),
        ("batch/runs.xlsx", True),
        ("batch/~$runs.xlsx", False),
        ("batch/.runs.csv.swp", False),
        ("batch/articles/a.md~", False),
        ("batch/runs.checked.xlsx", False),
        ("batch/.git/index", False),
        ("books/2019.xlsx", True),
        ("books/site/index.html", False),
        ("catalog.db", True),
        ("catalog.db-journal", False),
        ("other.txt", False),
    ],
)
def test_which_changes_count(name, does, tmp_path):
    assert (
        counts(
            tmp_path / name,
            catalog=tmp_path / "catalog.db",
            folders={tmp_path / "batch": True, tmp_path / "books": False},
        )
        is does
    )


def test_the_journal_does_not_count_where_the_catalogue_lies_in_a_batch(tmp_path):
    assert not counts(tmp_path / "c.db-journal", catalog=tmp_path / "c.db", folders={tmp_path: True})


def test_a_workbook_without_a_catalogue_is_followed_and_nothing_is_written(tmp_path):
    book, table = tmp_path / "shale.xlsx", workbooks.BENCH["Runs"]
    book.write_bytes(workbooks.xlsx(workbooks.bench()))
    look = Look(tmp_path / "none.db", book)
    address = "devices/tessarik-shale-2/index.html"
    before = look.file(address)
    assert b"Tessarik Shale 2" in before
    book.write_bytes(book.read_bytes()[:3000])  # half saved
    look.follow(book)
    assert look.troubles()
    assert look.file(address) == before
    higher = [table[0], *([*row[:-1], row[-1] + 50] for row in table[1:])]
    book.write_bytes(workbooks.xlsx(workbooks.bench(Runs=higher)))
    look.follow(book)
    assert look.troubles() == []
    assert look.file(address) != before
    assert [path.name for path in tmp_path.iterdir()] == ["shale.xlsx"]
    assert look.desk.watched[tmp_path] is False  # a workbook may lie in a home folder


def test_folders_that_come_and_go_are_followed(tmp_path):
    """A batch that is moved away and back, and a folder that is made beside a workbook."""
    batch, away, book = tmp_path / "all" / "b", tmp_path / "away", tmp_path / "bench.xlsx"
    batch.mkdir(parents=True)
    book.touch()

    async def story():
        stop, reports = asyncio.Event(), asyncio.Queue()
        watching = asyncio.create_task(
            watch(
                lambda: watched_folders([batch, book]),
                catalog=tmp_path / "catalog.db",
                stop=stop,
                changed=reports.put_nowait,
                since=states(watched_folders([batch, book]), catalog=tmp_path / "catalog.db"),
            )
        )

        async def reported(path, again=lambda: None):
            async with asyncio.timeout(30):
                while True:
                    again()
                    try:
                        if path in await asyncio.wait_for(reports.get(), 1):
                            return
                    except TimeoutError:
                        continue

        async def followed(path):
            await reported(path, lambda: path.write_text("x"))

        await followed(batch / "runs.csv")
        batch.rename(away)
        await reported(batch)
        away.rename(batch)
        await reported(batch)
        await followed(batch / "prices.csv")
        (tmp_path / "logs").mkdir()
        await followed(tmp_path / "logs" / "a.csv")
        (Path(os.fsdecode(os.fsencode(batch) + b"/m\xe4rz.csv"))).write_text("x")
        await reported(batch)  # not by its name, which is no text
        await followed(batch / "runs.csv")
        stop.set()
        await watching

    asyncio.run(story())


def test_what_changed_before_the_first_watch_is_reported(tmp_path):
    batch, catalog = tmp_path / "b", tmp_path / "catalog.db"
    (batch / "logs").mkdir(parents=True)
    for name in ("same.csv", "edited.csv", "gone.csv", "logs/same.csv"):
        (batch / name).write_text("x")
    catalog.write_text("x")
    folders = watched_folders([batch])
    since = states(folders, catalog=catalog)
    (batch / "edited.csv").write_text("y z")
    (batch / "gone.csv").unlink()
    (batch / "logs/new.csv").write_text("x")
    (batch / "~$book.xlsx").write_text("x")
    catalog.write_text("y z")

    async def story():
        stop, reports = asyncio.Event(), asyncio.Queue()
        watching = asyncio.create_task(
            watch(lambda: folders, catalog=catalog, stop=stop, changed=reports.put_nowait, since=since)
        )
        reported = await asyncio.wait_for(reports.get(), 30)
        stop.set()
        await watching
        return reported

    names = ("b/edited.csv", "b/gone.csv", "b/logs/new.csv", "catalog.db")
    assert asyncio.run(story()) == {tmp_path / name for name in names}


def test_a_state_knows_what_its_files_were_before_it_was_read(bench, place):
    look = Look(bench.catalog, place)
    now = states(look.desk.watched, catalog=bench.catalog)
    assert look.desk.since == now
    assert {place / "runs.csv", bench.catalog, look.desk.templates / "base.html"} <= now.keys()


def test_logs_that_did_not_change_are_not_read_again(bench, place, monkeypatch):
    parsed = []

    def noted(path, *about, **how):
        parsed.append(path)
        return read_plain_log(path, *about, **how)

    monkeypatch.setattr(logfiles, "read_plain_log", noted)
    monkeypatch.setattr(logfiles, "SETTLED_NS", -1)  # so that a file is old at once
    table, log = place / "runs.csv", place / "logs" / "a.csv"
    log.parent.mkdir()
    log.write_text("t_s,mbit_s\n" + "".join(f"{second},{900 + second % 5}\n" for second in range(60)))
    heading, first, *rest = table.read_text().splitlines()
    table.write_text("\n".join([f"{heading},log", f"{first},logs/a.csv", *(f"{row}," for row in rest)]) + "\n")
    look = Look(bench.catalog, place)
    before = look.file(CAIRN)
    assert parsed == ["logs/a.csv"]
    table.write_text("\n".join(table.read_text().splitlines()[:-1]) + "\n")
    look.follow(table)
    assert look.troubles() == []
    assert look.file(CAIRN) != before
    assert parsed == ["logs/a.csv"]
    toml = place / "batch.toml"
    toml.write_text(toml.read_text().replace("Europe/Berlin", "Asia/Tokyo"))
    look.follow(toml)
    assert parsed == ["logs/a.csv"] * 2
    assert len(look.desk.first.kept_logs) == 1
    table.write_text("\n".join([heading, first, *rest]) + "\n")
    look.follow(table)
    assert look.desk.first.kept_logs == {}  # nothing is kept of what no row names any more

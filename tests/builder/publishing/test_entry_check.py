"""What a build or a publication would refuse of a batch is refused before it is entered, by file and line."""

import json
import re
from datetime import UTC, datetime, timedelta
from functools import partial

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.publishing.making.entry_check import CODE, REMARK, foresee
from catalog.connection import open_catalog
from catalog.entering import as_if_entered, check_batch, enter_batch
from catalog.errors import BatchRefused, BuildRefused
from tests.builder.publishing.publishing_bench import ENTERED, INSTANT, Bench, batch, runs
from tests.builder.publishing.test_embargoes import CAIRN
from tests.workbooks import bench as bench_sheets
from tests.workbooks import xlsx

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)
ARTICLE = """
[[article]]
id = "walk"
title = "A walk"
published = "{published}"
file = "a.md"
devices = ["quillmast-sill"]
"""
UNDER = "(= under client wrenlet-u2, band 5, width 80, direction down =)\n\n"
VALUE = UNDER + "It gives (= value quillmast-sill, at 60 =).\n"


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


def article(folder, text, *, published="2025-09-19T12:00:00Z", more="", id="walk-batch", **others):
    place = batch(folder, id, more=ARTICLE.format(published=published) + more, **others)
    (place / "a.md").write_text(text, encoding="utf-8")
    return place


def check(bench, place, *, now=DAY):
    db = open_catalog(bench.catalog, readonly=True)
    try:
        return check_batch(place, catalog=db, foresee=partial(foresee, now=now))
    finally:
        db.close()


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        ("It is\nquicker than (= firmware nobodys-box =).\n", 2, "nobodys-box"),
        (UNDER + "It gives (= nonsense quillmast-sill =).\n", 3, "nonsense"),
        (UNDER + "It gives (= value quillmast-sill@9.9, at 60 =).\n", 3, "has no firmware '9.9'"),
        (UNDER + "(= claim quillmast-sill leads tessarik-a-b : It wins =).\n", 3, "claim"),
        (
            "It\n(= coped quillmast-sill, workload five =).\n",
            2,
            "Quillmast Sill 1.0 never did five; it did no workload.",
        ),
        ("(= share tessarik-a-b, workload five, role calls =)\n", 1, "five has no role 'calls'; it has pages."),
        ("Of it\n\n(= ceiling nobodys-card =)\n", 3, "There is no client 'nobodys-card'"),
        ("![Inside](images/none.jpg)\n", 1, "The picture images/none.jpg is not in the batch"),
        ("See\n[there](/devices/index.html).\n", 2, "starts at the root of a host"),
        ("See [there](../../devices/no-such/index.html).\n", 1, "there is no page devices/no-such/index.html"),
        ("See [there](../../devices/quillmast-sill/).\n", 1, "there is no page devices/quillmast-sill"),
    ],
)
def test_what_a_build_refuses_of_an_article_is_refused_before(text, line, sentence, bench, tmp_path):
    place = article(tmp_path, text)
    (problem,) = check(bench, place).problems
    assert (problem.table, problem.row, problem.code) == ("a.md", line, CODE)
    assert sentence in problem.expected
    assert str(problem).startswith(f"a.md line {line}: ")
    # The build itself, of a catalogue into which it came without being looked at, is the judge.
    bench.enter(place)
    with pytest.raises(BuildRefused, match=r"walk-batch/a\.md line|reviews/walk/index\.html links to"):
        bench.publish(DAY)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("It answers as\n00:00:5E:00:53:A7.\n", r"a hardware \(MAC\) address"),
        ("Its\nserial number is X7K-2291-0042.\n", "a serial number"),
        ("It lies\nbelow /home/desk/bench.\n", "a path on somebody's computer"),
    ],
)
def test_what_a_publication_refuses_of_an_article_is_refused_before(text, kind, bench, tmp_path):
    place = article(tmp_path, text)
    (problem,) = check(bench, place).problems
    assert re.match(
        rf"(?i:{kind}) must not be public, so no site with it can be published: .*Take it out\.", problem.expected
    )
    assert problem.row in (1, 2)
    bench.enter(place)
    with pytest.raises(BuildRefused, match=kind):
        bench.publish(DAY)


def test_so_is_a_row_that_no_public_site_may_hold(bench, tmp_path):
    told = runs(height=1650.0).replace("a note between us 2", "its MAC is 00:00:5E:00:53:A7", 1)
    place = batch(tmp_path, "later", runs_csv=told)
    (problem,) = check(bench, place).problems
    assert (problem.table, problem.row, problem.column) == ("runs.csv", 8, "note")
    assert "A hardware (MAC) address must not be public" in problem.expected
    bench.enter(place)
    with pytest.raises(BuildRefused, match="MAC"):
        bench.publish(DAY)


def test_an_article_may_quote_what_comes_with_it_and_link_to_every_page(bench, tmp_path):
    links = "".join(
        f"[x](../../{to}) "
        for to in ("index.html", "devices/tessarik-cairn/index.html#measured", "glossary/index.html")
    )
    text = f"{UNDER}It gives (= value tessarik-cairn, at 60 =). {links}\n"
    place = article(
        tmp_path,
        text,
        more=CAIRN.replace("2025-09-10T09:00", "2025-09-02T05:00"),
        runs_csv=runs(device="tessarik-cairn", firmware="0.9.77"),
    )
    assert check(bench, place).problems == ()
    bench.enter(place)
    bench.publish(DAY)


def test_what_a_build_warns_of_is_a_warning(bench, tmp_path):
    place = article(tmp_path, "It gives 560 Mbit/s and (= firmware quillmast-sill =).\n")
    report = check(bench, place)
    assert report.problems == ()
    (warning,) = report.warnings
    assert (warning.table, warning.row, warning.code) == ("a.md", 1, REMARK)
    assert "“560 Mbit/s” is typed" in warning.expected


def test_an_article_that_is_to_come_is_read_as_of_its_day(bench, tmp_path):
    """Its device is hidden until INSTANT, so a second before nothing of it can be quoted, and then all of it."""
    told = {
        "more": CAIRN,
        "runs_csv": runs(device="tessarik-cairn", firmware="0.9.77"),
    }
    text = f"{UNDER}It gives (= value tessarik-cairn, at 60 =).\n"
    now = INSTANT - timedelta(days=5)
    early = article(tmp_path, text, published="2025-09-10T12:59:59Z", id="early", **told)
    assert {p.code for p in check(bench, early, now=now).problems} == {CODE}
    then = article(tmp_path, text, published="2025-09-10T13:00:00Z", id="then", **told)
    assert check(bench, then, now=now).problems == ()


def test_an_article_that_names_what_is_hidden_then_is_refused(bench, tmp_path):
    bench.enter(batch(tmp_path, "hidden", more=CAIRN))
    place = article(tmp_path, "A walk.\nThe Tessarik Cairn is quicker.\n", published="2025-09-08T12:00:00Z")
    problems = check(bench, place, now=INSTANT - timedelta(days=1)).problems
    assert {(p.row, p.expected.split(" must not be public")[0]) for p in problems} == {
        (2, "The name of something hidden")
    }
    assert check(bench, place, now=INSTANT).problems == ()


def test_a_batch_that_breaks_an_article_of_the_catalogue_says_so(bench, tmp_path):
    """One group until now; with a second width the binding no longer names one."""
    loose = "It gives\n(= value quillmast-sill, at 60, client wrenlet-u2, direction down =).\n"
    place = article(tmp_path, loose)
    assert check(bench, place).problems == ()
    bench.enter(place)
    wide = batch(tmp_path, "wide", runs_csv=runs(height=1650.0))
    text = (wide / "batch.toml").read_text(encoding="utf-8")
    (wide / "batch.toml").write_text(text.replace("width_mhz = 80", "width_mhz = 160"), encoding="utf-8")
    report = check(bench, wide)
    assert report.problems == ()
    (warning,) = [w for w in report.warnings if w.code == CODE]
    assert (warning.table, warning.row) == ("walk-batch/a.md", 2)
    assert "With this batch in it stops every build: Several groups fit, so one must be named" in warning.expected
    bench.enter(wide)
    with pytest.raises(BuildRefused, match="Several groups fit"):
        bench.publish(DAY)
    # What is broken already is not this batch's doing.
    assert [
        w.code for w in check(bench, batch(tmp_path, "more", runs_csv=runs(unit="A", height=1600.0))).warnings
    ] == []


def test_enter_refuses_the_same_and_changes_nothing(bench, tmp_path, monkeypatch):
    place = article(tmp_path, "It is (= firmware nobodys-box =).\n")
    before = bench.catalog.read_bytes()
    with pytest.raises(BatchRefused, match=r"a\.md line 1: .*nobodys-box"):
        enter_batch(place, into=bench.catalog, now=ENTERED, foresee=partial(foresee, now=DAY))
    for verb in ("check", "enter"):
        result = CliRunner().invoke(main, [verb, str(place), "--catalog", str(bench.catalog)])
        assert result.exit_code == 1
        assert "a.md line 1: (= firmware nobodys-box =) " in result.output
    assert bench.catalog.read_bytes() == before
    printed = CliRunner().invoke(main, ["check", str(place), "--json", "--catalog", str(bench.catalog)]).stdout
    assert [p["code"] for p in json.loads(printed)["problems"]] == [CODE]


def test_articles_wait_until_the_tables_are_settled(bench, tmp_path):
    place = article(tmp_path, "It is (= firmware nobodys-box =).\n", runs_csv=runs().replace(",S1,1,", ",nowhere,1,"))
    report = check(bench, place)
    assert {problem.table for problem in report.problems} == {"runs.csv"}
    assert [str(w).split(": ")[1] for w in report.warnings if w.code == "article-not-read"] == [
        "Articles are read once the problems are settled."
    ]


def test_an_article_that_was_changed_in_its_batch_is_sent_to_a_correction(bench, tmp_path):
    place = article(tmp_path, "It is quick.\n")
    bench.enter(place)
    (place / "a.md").write_text("It is quick, near by.\n", encoding="utf-8")
    problems = [p for p in check(bench, place).problems if p.column == "file"]
    assert [str(p) for p in problems] == [
        f'batch.toml line {problems[0].row}, column "file": The article walk stands in the catalogue with another text. '
        "A correction changes it: article,id=walk,file,a.md,NEW.md with a reason, a name and a day; NEW.md lies beside "
        "the file of corrections."
    ]


def test_the_catalogue_as_it_would_be_shows_what_the_entered_one_shows(bench, tmp_path):
    """The public copies of both, as SQL text, which SQLite writes."""
    from catalog.checking.batches import check as checked
    from catalog.reading.batch import read_batch
    from catalog.visibility import public_copy

    place = article(tmp_path, VALUE, runs_csv=runs(height=1650.0))
    db = open_catalog(bench.catalog, readonly=True)
    would = as_if_entered(checked(read_batch(place), db), db, now=ENTERED)
    db.close()
    seen = "\n".join(public_copy(would, as_of=DAY).conn.iterdump())
    bench.enter(place)
    whole = "\n".join(public_copy(bench.catalog, as_of=DAY).conn.iterdump())
    without_bytes = [re.sub(r"(INSERT INTO \"raw_content\" VALUES\('\w+',)\d+", r"\1…", text) for text in (seen, whole)]
    assert without_bytes[0] == without_bytes[1]


def test_what_no_site_may_hold_is_said_with_its_sheet(tmp_path):
    sheets = bench_sheets()
    sheets["Sessions"] = [
        ["id", "house", "date", "note"],
        ["day-1", "house-a", "2025-05-12", "see /home/desk/notes.txt"],
    ]
    (tmp_path / "bench.xlsx").write_bytes(xlsx(sheets))
    words = ["check", str(tmp_path / "bench.xlsx"), "--catalog", str(tmp_path / "none.db"), "--json"]
    result = CliRunner().invoke(main, words)
    (problem,) = json.loads(result.stdout)["problems"]
    assert (problem["table"], problem["row"], problem["file"], problem["sheet"]) == (
        "Sessions",
        2,
        "bench.xlsx",
        "Sessions",
    )

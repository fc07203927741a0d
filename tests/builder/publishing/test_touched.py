"""After a correction: exactly the sentences and images that are no longer true, by article and line."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.publishing.changing.changes import changes_since
from builder.publishing.changing.touched import REFUSED, said_by_articles, touched
from builder.publishing.making.build import build_site
from builder.publishing.making.publishing import publish_site, roll_back_site
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from tests.batches import article, batch_at, batch_toml

STORY = Path(__file__).parents[2] / "stories" / "01-partial-overlap"
NOW = datetime(2026, 6, 1, tzinfo=UTC)
A, B = "quillmast-dome-20", "tessarik-shale-2"
EARLY = "2024-06-01T10:00:00Z"
BATCH = batch_toml(
    "texts",
    site={"title": "The desk"},
    article=[
        article("dome", "articles/dome.md", published=EARLY, devices=[A, B]),
        article("shale", "articles/shale.md", published=EARLY),
    ],
)
DOME = f"""At 60 dB it gives (= value {A}, at 60 =), at 80 (= value {A}, at 80 =).

We wrote (= value {A}, at 60, frozen "700 Mbit/s" 2024-06-01 =).

(= lines {A} {B} =)

(= lines {B} =)
"""
SHALE = f"At 65 (= value {B}, at 65 =).\n\n(= claim {A} alike {B} : It is as good. =)\n"
LINE = f"runs,device={A};attenuation_db=60;repeat=1,throughput,700,1000,mistyped,a reader,2025-01-02\n"


@pytest.fixture
def catalog(tmp_path):
    path = tmp_path / "catalog.db"
    batch = batch_at(tmp_path / "texts", BATCH, {"articles/dome.md": DOME, "articles/shale.md": SHALE})
    for folder in (STORY, batch):
        enter_batch(folder, into=path, now=NOW)
    return path


@pytest.fixture
def corrections(tmp_path):
    file = tmp_path / "corrections.csv"
    file.write_text("table,key,column,was,now,reason,noticed_by,date\n" + LINE)
    return file


def test_exactly_what_changed_is_listed(catalog, corrections):
    # By hand: the Dome at 60 becomes 1000, at 80 it stays 100; over 55 to 75 dB it now leads by more than the 34.3 of
    # story 1, so the claim falls. The line of the Shale alone is as it was.
    before = said_by_articles(catalog, as_of=NOW)
    db = open_catalog(catalog, readonly=False)
    correct_file(corrections, catalog=db, now=NOW)
    db.close()
    found = touched(before, said_by_articles(catalog, as_of=NOW))
    plain = [(one.file, one.line, one.was.replace("\u00a0", " "), one.now.replace("\u00a0", " ")) for one in found]
    figure = next(one for one in found if one.image)
    assert (figure.file, figure.line) == ("texts/articles/dome.md", 5)
    assert figure.image.startswith(f"stills/review~dome~lines~{A}~")
    sentences = [entry for entry, one in zip(plain, found, strict=True) if not one.image]
    assert sentences[:2] == [
        ("texts/articles/dome.md", 1, "700 Mbit/s", "1000 Mbit/s"),
        (
            "texts/articles/dome.md",
            3,
            "700 Mbit/s (as published 1 June 2024)",
            "700 Mbit/s (as published 1 June 2024; the catalogue now says 1000 Mbit/s)",
        ),
    ]
    (claim,) = sentences[2:]
    assert claim[:3] == ("texts/articles/shale.md", 3, "It is as good.")
    assert claim[3].startswith(REFUSED)


def test_correct_prints_it_and_says_nothing_the_second_time(catalog, corrections):
    def run():
        result = CliRunner().invoke(main, ["correct", str(corrections), "--catalog", str(catalog)])
        assert result.exit_code == 0, result.output
        return result.stdout

    first = run()
    assert "In articles, look at or make again:" in first
    assert "texts/articles/dome.md line 1: was 700" in first
    assert "texts/articles/dome.md line 5: the figure changed; export stills/review~dome~lines~" in first
    assert "articles" not in run()


def published(catalog, site, *, as_of=NOW, **others):
    return publish_site(catalog, site, as_of=as_of, now=as_of, jobs=2, cache=None, progress=lambda _: None, **others)


def pictures(site):
    """Every still of a site: folder -> file -> bytes."""
    folders = sorted((site / "stills").iterdir())
    return {f"stills/{f.name}/": {p.name: p.read_bytes() for p in sorted(f.iterdir())} for f in folders}


def test_changes_lists_it_against_the_published_site(catalog, corrections, tmp_path):
    published(catalog, tmp_path / "site")
    assert changes_since(catalog, tmp_path / "site", as_of=NOW).redo == ()
    before = said_by_articles(catalog, as_of=NOW)
    db = open_catalog(catalog, readonly=False)
    correct_file(corrections, catalog=db, now=NOW)
    db.close()
    found = changes_since(catalog, tmp_path / "site", as_of=NOW).redo
    assert found == touched(before, said_by_articles(catalog, as_of=NOW))
    assert [one.to_json()["line"] for one in found] == [1, 3, 5, 3]
    assert [bool(one.to_json()["image"]) for one in found] == [False, False, True, False]


def test_published_stills_follow_corrections_and_come_back_with_the_earlier_site(catalog, corrections, tmp_path):
    # The claim in shale.md falls by the correction, so the text is published without it.
    site = tmp_path / "site"
    db = open_catalog(catalog, readonly=False)
    db.execute("UPDATE article SET text = 'Nothing claimed.' WHERE article_id = 'shale'")
    first = published(catalog, site, stills=True)
    assert first.built.stills > 0
    old = pictures(site)
    correct_file(corrections, catalog=db, now=NOW)
    db.close()
    later = NOW.replace(day=2)
    second = published(catalog, site, as_of=later)  # not asked for again
    new = pictures(site)
    assert second.built.stills == first.built.stills
    assert new.keys() == old.keys()
    # What the list names is exactly what has other bytes.
    named = {one.image for one in second.changes.redo if one.image}
    assert named == {folder for folder in old if old[folder] != new[folder]}
    assert len(named) == 1
    roll_back_site(site, catalog=catalog, now=later)
    assert pictures(site) == old


def test_stills_stand_where_the_list_says(catalog, tmp_path):
    report = build_site(
        catalog, out=tmp_path / "site", as_of=NOW, jobs=2, cache=None, progress=lambda _: None, stills=True
    )
    folders = sorted((tmp_path / "site" / "stills").iterdir())
    said = said_by_articles(catalog, as_of=NOW)
    assert {f"stills/{folder.name}/" for folder in folders} == {image for image, _ in said.images.values()}
    assert report.stills == sum(1 for folder in folders for path in folder.iterdir() if path.suffix != ".txt")
    for folder in folders:
        names = {path.name for path in folder.iterdir()}
        assert {
            f"{size}-{ground}.{kind}"
            for size in ("1920x1080", "1080x1080")
            for ground in ("light", "dark")
            for kind in ("svg", "png")
        } <= names
        question, spoken, *_ = (folder / "words.txt").read_text(encoding="utf-8").splitlines()
        assert question.endswith("?")
        assert spoken


def test_without_being_asked_there_are_none(catalog, tmp_path):
    report = build_site(catalog, out=tmp_path / "site", as_of=NOW, jobs=1, cache=None, progress=lambda _: None)
    assert report.stills == 0
    assert not (tmp_path / "site" / "stills").exists()

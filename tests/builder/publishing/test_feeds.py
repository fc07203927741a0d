"""Feeds, the list of pages, heads and preview pictures: valid by their standards, with ids that never change."""

import io
import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit
from uuid import UUID

import feedparser
import pytest
from defusedxml import ElementTree as Xml
from PIL import Image

from builder import wording
from builder.pages.contents import compose, load_contents
from builder.publishing.files import feeds
from builder.publishing.files.feeds import ATOM, atom_feed, feed_entries, json_feed
from builder.publishing.files.preview_images import SIZE, preview_image
from builder.publishing.files.script_data import program_tasks
from builder.publishing.making.building import SITEMAP
from catalog.visibility import public_copy
from tests.builder.pages.conftest import with_changed

HOME = "https://example.org/bench/"
RFC_3339 = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:Z|[+-]\d{2}:\d{2})")


def contents_of(catalog, as_of, tmp_path):
    copy = public_copy(catalog, as_of=as_of, to=tmp_path / f"{as_of:%Y%m%d%H%M%S}.db")
    try:
        return load_contents(copy, as_of=as_of, sizes={})
    finally:
        copy.close()


@pytest.fixture(scope="module")
def contents(demo_file, demo_instant, tmp_path_factory):
    return contents_of(demo_file, demo_instant, tmp_path_factory.mktemp("copies"))


@pytest.fixture
def homeless(contents):
    return with_changed(contents, address=None)


@pytest.mark.parametrize("address", ["https://example.org/bench/", None])
def test_atom_has_what_the_standard_asks_for(address, contents):
    document = atom_feed(with_changed(contents, address=address))
    feed = Xml.fromstring(document)
    assert feed.tag == f"{{{ATOM}}}feed"
    # Source: RFC 4287: feed (4.1.1) and entry (4.1.2) hold exactly one id, title and updated; a feed has an author
    # unless every entry has one; ids are IRIs (4.2.6); dates are RFC 3339 (3.3); alternate links at most one a type.
    entries = feed.findall(f"{{{ATOM}}}entry")
    assert len(entries) > 10
    for element in (feed, *entries):
        for name in ("id", "title", "updated"):
            assert len(element.findall(f"{{{ATOM}}}{name}")) == 1, name
        assert UUID(element.findtext(f"{{{ATOM}}}id").removeprefix("urn:uuid:"))
        assert RFC_3339.fullmatch(element.findtext(f"{{{ATOM}}}updated"))
        links = element.findall(f"{{{ATOM}}}link")
        assert [link.get("rel") for link in links].count("alternate") == 1
        for link in links:
            assert bool(urlsplit(link.get("href")).scheme) == (address is not None)
    assert feed.find(f"{{{ATOM}}}author/{{{ATOM}}}name").text
    # RFC 4287, 4.1.1: two entries with one id must not share "updated" either; ours never share an id.
    ids = [entry.findtext(f"{{{ATOM}}}id") for entry in entries]
    assert len(set(ids)) == len(ids)


def test_reader_of_feeds_understands_it(contents):
    # A reader in wide use, unlike ours: it is strict about XML ("bozo") and knows the versions.
    found = feedparser.parse(io.BytesIO(atom_feed(contents)))
    assert not found.bozo
    assert found.version == "atom10"
    own = feed_entries(contents)
    assert [entry.title for entry in found.entries] == [entry.title for entry in own]
    assert [entry.link for entry in found.entries] == [entry.link for entry in own]
    days = [entry.updated_parsed for entry in found.entries]
    assert days == sorted(days, reverse=True)


def test_json_feed_has_what_its_version_asks_for(contents, homeless):
    # Source: jsonfeed.org, version 1.1: version and title are required, items each have an id that is a text and
    # content_html or content_text; addresses are whole ones; dates RFC 3339.
    feed = json.loads(json_feed(contents))
    assert feed["version"] == "https://jsonfeed.org/version/1.1"
    assert feed["title"]
    assert feed["feed_url"] == "https://example.org/bench/feed.json"
    assert len(feed["items"]) == len(feed_entries(contents))
    for item in feed["items"]:
        assert isinstance(item["id"], str)
        assert item["content_text"]
        assert item["url"].startswith("https://example.org/bench/")
        assert RFC_3339.fullmatch(item["date_published"])
    without = json.loads(json_feed(homeless))
    assert not {"feed_url", "home_page_url"} & without.keys()
    assert not [item for item in without["items"] if "url" in item]


def test_rebuild_without_a_change_adds_nothing(demo_file, contents, tmp_path):
    later = contents_of(demo_file, contents.site.as_of + timedelta(hours=1), tmp_path)
    assert [e.id for e in feed_entries(later)] == [e.id for e in feed_entries(contents)]
    assert atom_feed(later) == atom_feed(contents)


def test_renamed_device_keeps_its_entries(contents):
    device = contents.results.bench.devices["tessarik-cupola"]
    devices = {**contents.results.bench.devices, device.device_id: replace(device, model="Dome")}
    renamed = with_changed(contents, bench=replace(contents.results.bench, devices=devices))
    assert {e.id for e in feed_entries(renamed)} == {e.id for e in feed_entries(contents)}
    assert any("Tessarik Dome" in e.title for e in feed_entries(renamed))


def test_later_entry_of_the_same_day_leaves_earlier_ids_alone(monkeypatch, contents):
    events = feeds.events(contents.catalogue, contents.results)
    first = {e.id for e in feed_entries(contents)}
    monkeypatch.setattr(feeds, "events", lambda *_: [replace(events[0], what=f"{events[0].what}, again"), *events])
    assert len({e.id for e in feed_entries(contents)} - first) == 1


def test_entry_of_something_hidden_comes_with_its_instant(demo_file, demo_instant, tmp_path):
    # Source: story 9: nothing in the feed before, and the entry dated at the embargo's end.
    from catalog.connection import open_catalog

    db = open_catalog(demo_file, readonly=True)
    ((ends, device),) = db.execute(
        "SELECT until_utc, device_id FROM embargo WHERE subject = 'device' AND covers = 'existence' AND until_utc > ?",
        [demo_instant.strftime("%Y-%m-%dT%H:%M:%SZ")],
    ).fetchall()
    db.close()
    end = datetime.fromisoformat(ends).astimezone(UTC)
    before = contents_of(demo_file, end - timedelta(seconds=1), tmp_path)
    at = contents_of(demo_file, end, tmp_path)
    assert device.encode() not in atom_feed(before) + json_feed(before)
    fresh = [e for e in feed_entries(at) if device in e.link]
    assert fresh
    assert {e.updated for e in fresh} == {ends}
    assert {e.id for e in feed_entries(before)} <= {e.id for e in feed_entries(at)}


def test_pages_are_listed_and_found(demo_site):
    # Source: sitemaps.org, protocol 0.9: urlset of url with loc, whole addresses, at most 50,000.
    tree = Xml.fromstring((demo_site / "sitemap.xml").read_bytes())
    assert tree.tag == f"{{{SITEMAP}}}urlset"
    listed = [loc.text.removeprefix(HOME) for loc in tree.iter(f"{{{SITEMAP}}}loc")]
    assert len(listed) == len(set(listed))
    for name in listed:
        assert (demo_site / name).is_file(), name
    assert "404.html" not in listed
    # ... and lastmod, a date as W3C Datetime has it: that of the newest data on the page, where it has any.
    days = {url.find(f"{{{SITEMAP}}}loc").text: url.findtext(f"{{{SITEMAP}}}lastmod") for url in tree}
    for address, day in days.items():
        said = re.search(r"Newest data</dt>\s*<dd>([^<]*)", (demo_site / address.removeprefix(HOME)).read_text("utf-8"))
        assert (said and said[1]) == (day and wording.date(day)), address
    assert sum(day is not None for day in days.values()) > len(days) / 2
    for kind in ("devices", "pairs", "rankings", "reviews"):
        assert {p.relative_to(demo_site).as_posix() for p in (demo_site / kind).rglob("index.html")} <= set(listed)


def test_every_page_knows_its_address_and_the_feeds(demo_site):
    for page in (demo_site / "index.html", *demo_site.glob("*/*/index.html")):
        text = page.read_text(encoding="utf-8")
        if 'http-equiv="refresh"' in text:
            continue
        name = page.relative_to(demo_site).as_posix()
        assert f'<link rel="canonical" href="https://example.org/bench/{name}">' in text
        up = "../" * name.count("/")
        assert f'type="application/atom+xml" title="What is new" href="{up}feed.xml">' in text


def test_review_brings_a_picture_of_its_own(demo_site, contents):
    text = (demo_site / "reviews" / "cupola-review" / "index.html").read_text(encoding="utf-8")
    target = re.search(r'<meta property="og:image" content="https://example.org/bench/([^"]+)">', text)[1]
    with Image.open(demo_site / target) as picture:
        assert picture.size == SIZE == (1200, 630)
        assert picture.format == "PNG"
        assert not picture.info.get("exif")
        colours = picture.convert("L").getextrema()
    assert colours[0] < 60 < 240 < colours[1]  # ink on paper, not an empty sheet
    article = next(a for a in contents.catalogue.articles if a.article_id == "cupola-review")
    assert compose(preview_image, contents, article) == (demo_site / target).read_bytes()
    other = replace(article, title="Another title")
    assert compose(preview_image, contents, other) != compose(preview_image, contents, article)


@pytest.mark.parametrize("title", ["word " * 60, "w" * 400, "", "Ein sehr langer Titel: " + "Zugangspunkte " * 9])
def test_no_title_runs_off_its_picture(title, contents):
    article = replace(contents.catalogue.articles[0], title=title)
    with Image.open(io.BytesIO(compose(preview_image, contents, article))) as picture:
        edge = picture.convert("L").crop((SIZE[0] - 60, 0, *SIZE))
    assert edge.getextrema()[0] > 200


def test_without_an_address_nothing_is_made_that_needs_one(homeless):
    made = [file.address for task in program_tasks(homeless) for file in task.files(homeless)]
    assert made == ["feed.xml", "feed.json"]

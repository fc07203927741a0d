"""A page composed when it is asked for is, byte for byte, the page of a build that wrote all of them."""

import random
import re
from html import unescape

import pytest

from builder.desk.batches import Trouble
from builder.desk.dressing import dressed, panel_of
from builder.publishing.making.building import compose_site
from tests.builder.desk.previewed import CAIRN, REVIEW, Look, batch_with_article
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs
from tests.builder.publishing.test_embargoes import FIRMWARE, RESULT

BANNER = "Preview, not for the public."


@pytest.fixture(scope="module")
def bench(small_file, chart_cache, tmp_path_factory):
    folder = tmp_path_factory.mktemp("preview")
    bench = Bench(small_file, folder / "bench", chart_cache)
    bench.enter(batch(folder, "firmware", more=FIRMWARE, runs_csv=runs(firmware="1.0.44")))
    bench.enter(batch(folder, "result", more=RESULT, title="Results to come", runs_csv=runs(height=1650.0)))
    return bench


@pytest.fixture(scope="module")
def look(bench, tmp_path_factory):
    return Look(bench.catalog, batch_with_article(tmp_path_factory.mktemp("batch")))


def built(catalog, folder, as_of):
    folder.mkdir()
    compose_site(catalog, folder, as_of=as_of, jobs=1, progress=lambda _: None, preview=True)
    files = contents(folder)
    files.pop("sitemap.xml", None)  # no robot may come, and it would need every page
    return files


def test_all_files_of_the_demo_are_those_of_a_build(demo_file, demo_instant, tmp_path):
    files = built(demo_file, tmp_path / "built", demo_instant)
    look = Look(demo_file, as_of=demo_instant)
    order = sorted(files)
    random.Random(7).shuffle(order)  # leaves, charts and rows are asked for before the pages that bring them
    assert sum(name.endswith(".html") for name in order) > 200
    assert [name for name in order if look.file(name) != files[name]] == []


def test_a_batch_as_if_entered_is_what_it_is_once_entered(small_file, chart_cache, tmp_path):
    bench = Bench(small_file, tmp_path / "bench", chart_cache)
    place = batch_with_article(tmp_path)
    before = Look(bench.catalog, place).every_page()
    bench.enter(place)
    after = Look(bench.catalog).every_page()
    # The data page counts bytes of the database, in which only an entered batch has an instant of its own.
    differing = [name for name in after if before[name] != after[name] and not name.startswith("data/")]
    assert differing == []
    assert before.keys() == after.keys()


def test_every_page_says_that_it_is_a_preview(look):
    pages = look.every_page()
    assert len(pages) > 15
    for page in pages.values():
        assert BANNER in page.decode()
        assert '<meta name="robots" content="noindex, nofollow">' in page.decode()


@pytest.mark.parametrize(
    ("address", "named"),
    [
        (CAIRN, "Tessarik Cairn (hidden until 10 September 2025, 13:00 UTC)"),
        (REVIEW, "the review “Cairn, heard & seen” (hidden until"),
        ("devices/quillmast-sill/index.html", "firmware 1.0.44 of Quillmast Sill (hidden until"),
        ("data/index.html", "the batch “Results to come” (hidden until"),
    ],
)
def test_hidden_things_are_named_where_they_are(address, named, look):
    page = unescape(look.page(address))
    assert named in page.split(BANNER, 1)[1].split("</p>", 1)[0]


def test_pages_without_hidden_things_are_marked_too(look):
    assert "Nothing hidden is named on this page" in look.page("404.html")


def test_what_is_added_to_a_page(look):
    page = look.file("index.html")
    html = dressed(page, "index.html", "").decode()
    added = [line for line in html.splitlines() if line not in page.decode().splitlines()]
    assert [line.split()[0] for line in added] == ["<meta", "<link", "<script", "<script"]
    # The page listens to where it came from; everything else is as strict as on the public page.
    assert html.replace("connect-src 'self'; ", "").replace("\n".join(added[1:]) + "\n", "") == page.decode()
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)[1]
    assert sorted(unescape(policy).split("; ")) == sorted(
        [
            "connect-src 'self'",
            "default-src 'none'",
            "script-src 'self'",
            "style-src 'self'",
            "font-src data:",
            "img-src 'self'",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def test_what_is_wrong_cannot_break_out_of_its_panel(look):
    panel = panel_of([Trouble("<b>x", (("a <script>", '/"><i>'),))], ["<u>"])
    assert not re.search(r"<(?:b|script|i|u)>", panel)
    assert panel in dressed(look.file("index.html"), "index.html", panel).decode()


@pytest.mark.parametrize(
    "path",
    [
        "/nothing.html",
        "/../catalog.db",
        "/%2e%2e/catalog.db",
        "/data/../../catalog.db",
        "/scripts/pairs/9-9.js",
        "/figures/none.json",
        "/~preview/x.js",
    ],
)
def test_there_is_nothing_at_other_addresses(path, look):
    assert look.status(path) == 404


def test_a_folder_leads_to_its_page(look):
    assert look.status("/devices") == 307
    assert look.status("/devices/") == look.status("/") == 200

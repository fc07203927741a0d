"""A preview holds what is hidden, says so on every page, answers this machine only, and never meets the public site."""

import threading
import urllib.error
import urllib.request
from html import unescape

import pytest

from builder.publishing.making.building import build_site
from builder.publishing.making.previewing import build_preview, server_of
from catalog.errors import BuildRefused, InputRefused
from tests.builder.publishing.publishing_bench import SECOND_BEFORE, Bench, batch, contents, runs
from tests.builder.publishing.test_embargoes import CAIRN, FIRMWARE, RESULT

KEYWORDS = {"jobs": 1, "progress": lambda _: None}


@pytest.fixture(scope="module")
def bench(small_file, chart_cache, tmp_path_factory):
    folder = tmp_path_factory.mktemp("preview")
    bench = Bench(small_file, folder / "bench", chart_cache)
    bench.enter(batch(folder, "cairn", more=CAIRN, runs_csv=runs(device="tessarik-cairn", firmware="0.9.77")))
    bench.enter(batch(folder, "firmware", more=FIRMWARE, runs_csv=runs(firmware="1.0.44")))
    bench.enter(batch(folder, "result", more=RESULT, title="Results to come", runs_csv=runs(height=1650.0)))
    return bench


@pytest.fixture(scope="module")
def preview(bench):
    out = bench.folder / "preview"
    build_preview(bench.catalog, out, as_of=SECOND_BEFORE, **KEYWORDS)
    return out


def test_every_page_says_that_it_is_a_preview(preview):
    pages = [p.read_text(encoding="utf-8") for p in preview.rglob("*.html")]
    assert len(pages) > 15
    for page in pages:
        assert "Preview, not for the public." in page
        assert '<meta name="robots" content="noindex, nofollow">' in page


@pytest.mark.parametrize(
    ("address", "named"),
    [
        ("devices/tessarik-cairn/index.html", "Tessarik Cairn (hidden until 10 September 2025, 13:00 UTC)"),
        ("devices/quillmast-sill/index.html", "firmware 1.0.44 of Quillmast Sill (hidden until"),
        ("data/index.html", "the batch “Results to come” (hidden until"),
    ],
)
def test_hidden_things_are_named_where_they_are(address, named, preview):
    page = unescape((preview / address).read_text(encoding="utf-8"))
    banner = page.split("Preview, not for the public.", 1)[1].split("</p>", 1)[0]
    assert named in banner


def test_page_without_hidden_things_says_so(preview):
    page = (preview / "404.html").read_text(encoding="utf-8")
    assert "Nothing hidden is named on this page" in page


def test_public_pages_have_no_trace_of_it(bench):
    out = bench.folder / "public"
    build_site(bench.catalog, out=out, as_of=SECOND_BEFORE, cache=bench.cache, **KEYWORDS)
    for name, content in contents(out).items():
        if name.endswith(".html"):
            assert b"not for the public" not in content
            assert b"noindex" not in content


def test_folders_are_never_mixed_up(bench, preview):
    public = bench.folder / "site"
    bench.publish(SECOND_BEFORE)
    before, previewed = contents(public), contents(preview)
    with pytest.raises(BuildRefused, match=r"is a public site\. A preview holds hidden things and never goes there"):
        build_preview(bench.catalog, public, as_of=SECOND_BEFORE, **KEYWORDS)
    with pytest.raises(BuildRefused, match=r"is a preview\. Name another folder"):
        build_site(bench.catalog, out=preview, as_of=SECOND_BEFORE, cache=bench.cache, **KEYWORDS)
    assert (contents(public), contents(preview)) == (before, previewed)


def test_served_to_this_machine_only(preview):
    server = server_of(preview, port=0)
    host, port = server.server_address[:2]
    assert host == "127.0.0.1"  # the loopback address: RFC 1122, 3.2.1.3
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        with urllib.request.urlopen(f"http://{host}:{port}/index.html") as answer:
            assert answer.headers["X-Robots-Tag"] == "noindex, nofollow"
            assert b"Preview, not for the public." in answer.read()
        foreign = urllib.request.Request(f"http://{host}:{port}/index.html", headers={"Host": "bench.example"})
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(foreign)
        outside = urllib.request.Request(f"http://{host}:{port}/../bench/catalog.db")
        with pytest.raises(urllib.error.HTTPError, match="404"):
            urllib.request.urlopen(outside)
        with pytest.raises(InputRefused, match=f"Port {port} cannot be used"):
            server_of(preview, port=port)
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def test_a_preview_never_lies_below_a_public_site(bench):
    public = bench.folder / "other-site"
    for place in (public, public.with_name("other-site.earlier")):
        build_site(bench.catalog, out=place, as_of=SECOND_BEFORE, cache=bench.cache, **KEYWORDS)
        (place / "deep").mkdir()
        before = contents(place)
        for out in (place / "hidden", place / "deep" / "hidden"):
            with pytest.raises(BuildRefused, match=r"lies in .*, which is a public site or a version of one"):
                build_preview(bench.catalog, out, as_of=SECOND_BEFORE, **KEYWORDS)
            assert not out.exists()
        link = bench.folder / f"way-into-{place.name}"
        link.symlink_to(place, target_is_directory=True)
        with pytest.raises(BuildRefused, match="which is a public site"):
            build_preview(bench.catalog, link / "hidden", as_of=SECOND_BEFORE, **KEYWORDS)
        assert contents(place) == before


def test_a_preview_is_its_owners_only(preview):
    # POSIX.1-2017, <sys/stat.h>: the last six bits are those of the group and of others.
    assert not [path for path in (preview, *preview.rglob("*")) if path.stat().st_mode & 0o077]

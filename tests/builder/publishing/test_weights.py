"""A page that is too heavy for a phone stops the build, which names it (Q02 of the job analysis)."""

import shutil
from datetime import UTC, datetime

import pytest

from builder.charts import face
from builder.pages.parts.leaves import PAGE_LIMIT_BYTES
from builder.publishing.making.building import heavy_pages
from builder.shipped import templates_folder
from catalog.errors import BuildRefused


def test_the_limit_is_the_one_that_was_asked_for():
    assert PAGE_LIMIT_BYTES == 250_000  # Source: site.md, "Reading quality".


def test_the_face_keeps_to_its_limit():
    # Source: site.md, "Charts fit any face, any width": both files together, before encoding.
    assert sum((face.folder() / name).stat().st_size for name in face.FILES.values()) <= 60_000


def test_what_stands_around_a_page_counts_and_photos_do_not(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "index.html").write_bytes(b"x" * (PAGE_LIMIT_BYTES - 100))
    (tmp_path / "photo.jpg").write_bytes(b"x" * PAGE_LIMIT_BYTES * 2)
    assert heavy_pages(tmp_path, around=100) == []
    (found,) = heavy_pages(tmp_path, around=100, more={"a/index.html": 1, "b/index.html": 5})
    assert found.page == "a/index.html"
    (found,) = heavy_pages(tmp_path, around=101)
    assert (found.page, found.weight) == ("a/index.html", PAGE_LIMIT_BYTES + 1)


def test_the_heaviest_come_first(tmp_path):
    for name, size in (("light", 10), ("heavy", 251_000), ("heavier", 300_000)):
        (tmp_path / f"{name}.html").write_bytes(b"x" * size)
    assert [str(page) for page in heavy_pages(tmp_path, around=0)] == [
        "heavier.html weighs 300 kB, and 250 kB is the most",
        "heavy.html weighs 251 kB, and 250 kB is the most",
    ]


def test_a_heavy_page_leaves_the_site_as_it_was(small_file, build, tmp_path):
    templates = shutil.copytree(templates_folder(), tmp_path / "templates")
    page = templates / "pages" / "search.html"
    page.write_text(page.read_text().replace("{% block body %}", "{% block body %}<p>" + "long " * 60_000 + "</p>"))
    out = tmp_path / "site"
    with pytest.raises(BuildRefused, match=r"search/index\.html weighs"):
        build(small_file, out, templates=templates)
    assert not out.exists()


def test_a_page_that_grew_too_heavy_leaves_more_of_its_tables_to_others(demo_file, build, tmp_path):
    # Years later nothing of the demo is under embargo, and its best-tested device has more to show than a page may hold.
    out = tmp_path / "site"
    build(demo_file, out, as_of=datetime(2030, 1, 1, tzinfo=UTC))
    around = sum(path.stat().st_size for path in (out / "assets").iterdir() if path.name.startswith(("mark.", "site.")))
    assert heavy_pages(out, around=around) == []
    rows = [page.read_text().count("<tr") for page in (out / "devices" / "tessarik-cupola").glob("*.html")]
    assert len(rows) > 10
    assert max(rows) > 90  # and no more files than have to be

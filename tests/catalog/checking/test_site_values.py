"""What [site] may say: what no build accepts is refused, a slash that was forgotten is put there and counted."""

import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from tests.catalog.conftest import NOW

BATCH = """\
format = 1
id = "first"
title = "First"
timezone = "Europe/Berlin"
licence = "CC-BY-4.0"
[site]
title = "Our tests"
"""
MENDED = {"site address without its closing slash": 1}


@pytest.fixture
def with_site(tmp_path):
    """with_site(line of [site]): a batch folder that holds it."""

    def written(line):
        folder = tmp_path / "first"
        folder.mkdir(exist_ok=True)
        (folder / "batch.toml").write_text(BATCH + line + "\n", encoding="utf-8")
        return folder

    return written


@pytest.mark.parametrize(
    ("typed", "stored", "repairs"),
    [
        ("https://example.org", "https://example.org/", MENDED),
        ("https://example.org/tests", "https://example.org/tests/", MENDED),
        ("http://example.org:8000/tests/", "http://example.org:8000/tests/", {}),
    ],
)
def test_the_address_ends_with_a_slash(typed, stored, repairs, with_site, tmp_path):
    folder = with_site(f'address = "{typed}"')
    assert dict(check_batch(folder, catalog=None).repairs) == repairs
    assert dict(enter_batch(folder, into=tmp_path / "c.db", now=NOW).repairs) == repairs
    db = open_catalog(tmp_path / "c.db", readonly=True)
    assert db.execute("SELECT address FROM site").fetchall() == [(stored,)]
    again = check_batch(with_site(f'address = "{typed}"'), catalog=db)
    assert (again.problems, again.already_entered) == ((), "first")
    db.close()


@pytest.mark.parametrize(
    "typed",
    [
        "example.org/",
        "ftp://example.org/",
        "https:///tests/",
        "https://example.org/?a=b",
        "https://example.org/#top",
        "https://example.org/our tests/",
        "https://example.org/index.html",
        "https://me@example.org/",
        "/tests/",
        "https://[::1/",
        "https://example.org//tests/",
        "https://example.org:port/",
        "https://example.org:99999/",
        "https://example.org/../tests/",
        "https://example.org/./tests/",
    ],
)
def test_an_address_that_no_site_can_have_is_refused(typed, with_site):
    (problem,) = check_batch(with_site(f'address = "{typed}"'), catalog=None).problems
    assert str(problem) == (
        f'batch.toml line 8, column "address": {typed!r} is not the address of a site\'s folder on the web. '
        'Write it like "https://example.org/tests/": with https:// and no page, "?" or "#".'
    )


@pytest.mark.parametrize(("typed", "taken"), [("en", True), ("de-CH", True), ("English", False), ("EN", False)])
def test_a_language_is_the_tag_of_one(typed, taken, with_site):
    # Source: RFC 5646, section 2.1: a language has two or three letters; more follows behind hyphens.
    problems = check_batch(with_site(f'language = "{typed}"'), catalog=None).problems
    assert [str(p) for p in problems] == (
        []
        if taken
        else [
            f'batch.toml line 8, column "language": {typed!r} is not the tag of a language. Write it like "en" or "de-CH".'
        ]
    )

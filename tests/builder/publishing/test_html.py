"""Every page of both sites as a strict reader sees it."""

import re
from collections import Counter
from itertools import pairwise

import html5lib
import pytest

XHTML = "{http://www.w3.org/1999/xhtml}"
PAGE_LIMIT_BYTES = 250_000  # site.md: a page weighs at most 250 kB without photos


def pages(site):
    return sorted(site.rglob("*.html"))


@pytest.fixture(scope="module", params=["small_site", "demo_site"])
def parsed(request):
    """(name, text, tree) of every page; parsing stops at the first error of the HTML standard."""
    site = request.getfixturevalue(request.param)
    parser = html5lib.HTMLParser(strict=True)
    found = []
    for path in pages(site):
        text = path.read_text(encoding="utf-8")
        try:
            found.append((path.relative_to(site).as_posix(), text, parser.parse(text)))
        except html5lib.html5parser.ParseError as failure:
            raise AssertionError(f"{path}: {failure}") from failure
    return found


def test_pages_parse_without_an_error(parsed):
    assert len(parsed) >= 20


def test_ids_are_unique(parsed):
    for name, _, tree in parsed:
        ids = Counter(e.get("id") for e in tree.iter() if e.get("id"))
        assert [i for i, n in ids.items() if n > 1] == [], name


def test_one_question_leads_each_page_and_headings_never_skip(parsed):
    for name, _, tree in parsed:
        levels = [int(e.tag[-1]) for e in tree.iter() if re.fullmatch(rf"{re.escape(XHTML)}h[1-6]", str(e.tag))]
        assert levels[0] == 1, name
        assert levels.count(1) == 1, name
        assert all(b <= a + 1 for a, b in pairwise(levels)), (name, levels)


def test_tables_have_captions_and_scoped_headings_in_a_box_of_their_own(parsed):
    for name, _, tree in parsed:
        parents = {child: parent for parent in tree.iter() for child in parent}
        for table in tree.iter(f"{XHTML}table"):
            assert parents[table].get("class") == "reach", name  # as wide as the table, for the word at its edge
            box = parents[parents[table]]
            assert box.get("class") == "scroll", name
            assert box.get("tabindex") == "0", name
            assert box.get("aria-label"), name
            assert all(th.get("scope") in ("col", "row") for th in table.iter(f"{XHTML}th")), name
            if box.get("role") == "region":
                assert table.find(f"{XHTML}caption") is not None, name


def test_no_cell_is_empty(parsed):
    for name, _, tree in parsed:
        for cell in tree.iter(f"{XHTML}td"):
            assert "".join(cell.itertext()).strip(), name


def test_pictures_have_words(parsed):
    for name, _, tree in parsed:
        for element in tree.iter():
            if element.tag == f"{XHTML}img":
                assert element.get("alt"), name
            if str(element.tag).endswith("}svg"):
                linked = any(child.tag.endswith("}a") for child in element.iter())
                assert element.get("role") == ("group" if linked else "img"), name  # in an image, links would be hidden
                assert element.get("aria-label"), name


def test_policy_is_strict_and_pages_obey_it(parsed):
    for name, text, tree in parsed:
        policy = next(
            e.get("content") for e in tree.iter(f"{XHTML}meta") if e.get("http-equiv") == "Content-Security-Policy"
        )
        assert "default-src 'none'" in policy, name
        assert "unsafe" not in policy, name
        fonts = re.findall(r"font-src ([^;]*)", policy)
        assert fonts == ["data:"] if name != "404.html" else fonts == [], name
        for script in tree.iter(f"{XHTML}script"):  # a file of the site, or data that no browser runs
            assert script.get("src") or script.get("type") == "application/ld+json", name
        assert " style=" not in re.sub(r">[^<]*<", "><", text), name
        assert not [e for e in tree.iter() for a in e.attrib if a.startswith("on")], name


def test_weight(parsed):
    for name, text, _ in parsed:
        assert len(text.encode()) <= PAGE_LIMIT_BYTES, f"{name}: {len(text.encode())} bytes"


def test_every_page_says_what_method_it_rests_on_and_two_the_instant(parsed):
    for name, text, _ in parsed:
        if name != "404.html":
            assert ("As of 30 June 2026, 12:00 UTC" in text) is (name in ("index.html", "data/index.html")), name
            # A page that a browser leaves by itself says nothing that could rest on anything.
            assert ("Method 2" in text) is ('http-equiv="refresh"' not in text), name


def test_names_that_look_like_markup_are_text(small_site):
    text = (small_site / "devices" / "tessarik-a-b" / "index.html").read_text()
    assert "A&lt;b" in text
    assert "A<b" not in text
    assert "<firmware>" not in text
    assert "Five people <" not in text

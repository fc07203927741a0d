"""The check of a built site finds what leads nowhere and what would be fetched from outside."""

import pytest

from tests.builder.publishing.publishing_bench import broken_links


def site(folder, **pages):
    for name, text in pages.items():
        path = folder / f"{name.replace('__', '/')}.html"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def test_sound_site_has_no_broken_links(tmp_path):
    site(
        tmp_path,
        index='<a href="a/b.html#here">x</a><a href="#top">x</a><p id="top"><a href="https://example.org/">out</a>',
        a__b='<p id="here"><a href="../index.html#top">back</a><a href="b.html#devices=a+b">chosen</a><a href="b.html">self</a><a href="mailto:a@b.c">m</a>',
    )
    assert broken_links(tmp_path) == []


@pytest.mark.parametrize(
    ("markup", "words"),
    [
        ('<a href="gone.html">x</a>', "gone.html: there is no such file"),
        ('<a href="other.html#gone">x</a>', "other.html#gone: there is no such place"),
        ('<a href="#gone">x</a>', "#gone: there is no such place"),
        ('<a href="other">x</a>', "other: there is no such file"),
        ('<option data-src="gone.js">x</option>', "gone.js: there is no such file"),
        ('<a href="/other.html">x</a>', "/other.html: it starts at the root of a host"),
        ('<img alt="a > b" src="https://example.org/p.png">', "it would be fetched from outside"),
        ('<link rel="stylesheet" href="//example.org/s.css">', "it would be fetched from outside"),
        ('<a href="javascript:alert(1)">x</a>', "no such kind of link"),
        ('<a href="a&amp;b.html">x</a>', "a&b.html: there is no such file"),
    ],
)
def test_each_kind_of_broken_link_is_named_with_its_page(markup, words, tmp_path):
    found = broken_links(site(tmp_path, index=markup, other="<p>"))
    assert len(found) == 1
    assert str(found[0]).startswith("index.html links to ")
    assert words in str(found[0])


def test_text_that_looks_like_a_link_is_none(tmp_path):
    assert broken_links(site(tmp_path, index='<p>write href="x" or &lt;a href="y"&gt;</p>')) == []


def test_links_to_the_sites_own_address_are_inside(tmp_path):
    site(tmp_path, index="<p>", **{"404": '<a href="https://example.org/bench/index.html">x</a>'})
    assert broken_links(tmp_path, home="https://example.org/bench/") == []
    site(tmp_path, **{"404": '<a href="https://example.org/bench/gone.html">x</a>'})
    assert len(broken_links(tmp_path, home="https://example.org/bench/")) == 1


def test_only_the_page_of_missing_addresses_begins_at_the_root_of_its_host(tmp_path):
    home = "https://example.org/bench/"
    site(tmp_path, index="<p>", **{"404": '<a href="/bench/index.html">x</a><a href="/">y</a>'})
    assert broken_links(tmp_path, home=home) == []
    for markup in ('<a href="/bench/gone.html">x</a>', '<a href="/index.html/x">x</a>'):
        site(tmp_path, **{"404": markup})
        assert len(broken_links(tmp_path, home=home)) == 1
    site(tmp_path, index='<a href="/bench/index.html">x</a>', **{"404": "<p>"})
    assert len(broken_links(tmp_path, home=home)) == 1


def test_every_link_of_the_demo_resolves(demo_site):
    assert broken_links(demo_site, home="https://example.org/bench/") == []

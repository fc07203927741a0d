"""Templates: escaped, strict, and refused in words where they are wrong."""

from dataclasses import dataclass
from typing import ClassVar

import pytest

from builder.pages.parts.blocks import Frame, Link, Page
from builder.pages.rendering import headings, page_templates, render
from catalog.errors import BuildRefused


@dataclass(frozen=True, kw_only=True)
class Bare(Page):
    template: ClassVar[str] = "bare"


PAGE = Bare(address="x/index.html", title="A<b", question="Q?", verdict="V.")
FRAME = Frame(
    site_title="S",
    language="en",
    style="s.css",
    icon="i.svg",
    script="assets/site.js",
    home="h",
    ways=(),
    questions=(),
    current=(),
    as_of="now",
    licence="CC-BY-4.0",
)


def rendered(folder, text):
    (folder / "pages").mkdir()
    (folder / "pages" / "bare.html").write_text(text)
    return render(page_templates(folder), PAGE, FRAME, {"k": "<svg/>"})


def test_text_is_escaped_and_drawings_are_placed(tmp_path):
    assert rendered(tmp_path, "{{ page.title }}{{ drawn['k'] }}") == "A&lt;b<svg/>"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{{ page.nothing }}", "cannot be filled for x/index.html.*nothing"),
        ("{{ nobody }}", "cannot be filled for x/index.html.*nobody"),
        ("{{ drawn['other'] }}", "cannot be filled for x/index.html.*other"),
        ("\n\n{% for %}", "pages/bare.html is broken at line 3"),
        ("{% include 'gone.html' %}", "The template gone.html is missing, so x/index.html cannot be written"),
    ],
)
def test_wrong_template_is_refused_in_words(text, words, tmp_path):
    with pytest.raises(BuildRefused, match=words):
        rendered(tmp_path, text)


def test_contents_are_the_second_headings_that_can_be_gone_to():
    body = '<h2 id="a">A &amp; b</h2><h3 id="x">no</h3><h2>nowhere</h2><h2 id="c&amp;d" class="k">C <em>d</em></h2>'
    assert headings(body) == ()  # two: the page is seen as quickly as its list
    assert headings(body + '<h2 id="e">E</h2>') == (Link("A & b", "#a"), Link("C d", "#c&d"), Link("E", "#e"))

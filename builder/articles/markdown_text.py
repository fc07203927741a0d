"""Markdown to sanitised HTML with marks where bindings stood. Headings move down one step: the page has the first.

Nothing is looked up here. A mark is a number between two private-use characters, which no text holds afterwards.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from xml.etree.ElementTree import Element

import markdown
import nh3
from markdown.extensions import Extension
from markdown.inlinepatterns import InlineProcessor
from markdown.treeprocessors import UnescapeTreeprocessor
from markdown.util import INLINE_PLACEHOLDER_RE

from builder.articles.bindings import OPEN

_TAGS = {
    "a",
    "blockquote",
    "br",
    "code",
    "em",
    "h2",
    "h3",
    "h4",
    "h5",
    "h6",
    "hr",
    "img",
    "li",
    "ol",
    "p",
    "pre",
    "strong",
    "table",
    "tbody",
    "td",
    "th",
    "thead",
    "tr",
    "ul",
}
_ATTRIBUTES = {"a": {"href"}, "img": {"src", "alt"}, "th": {"scope"}, "ol": {"start"}}
_SCHEMES = {"http", "https", "mailto"}

# Private-use characters: one pair around the number of a "(=" still to be read, one around that of a binding read.
_RAW, _RAW_END, _READ, _READ_END = "\ue000", "\ue001", "\ue002", "\ue003"
_PRIVATE = re.compile("[\ue000-\ue003]")
_UNREAD = re.compile(f"{_RAW}(\\d+){_RAW_END}")
_CODE = re.compile(r"<code>.*?</code>", re.DOTALL)
MARK = re.compile(f"{_READ}(\\d+){_READ_END}")
LONE_MARK = re.compile(f"<p>\\s*{_READ}(\\d+){_READ_END}\\s*</p>")


@dataclass(frozen=True, slots=True)
class Marked:
    """An article's HTML.

    html      sanitised, with a mark for each binding
    bindings  number of a binding -> (line it begins at, what stands between (= and =))
    lost      lines of a (= that was never read: no =), or inside of raw HTML or a link
    """

    html: str
    bindings: dict[int, tuple[int, str]]
    lost: tuple[int, ...]


class _Reader(InlineProcessor):
    """Takes a binding out of the text and leaves its mark. Code is read before it, so code stays as it is."""

    ANCESTOR_EXCLUDES = ("a",)

    def __init__(self, md: markdown.Markdown, typed: dict[int, str]) -> None:
        super().__init__(rf"\(={_RAW}(\d+){_RAW_END}(.*?)=\)", md)
        self.typed = typed

    def handleMatch(self, m: re.Match[str], data: str) -> tuple[Element | str, int, int]:  # type: ignore[override]
        self.typed[int(m[1])] = _UNREAD.sub("", self._as_text(m[2]))
        return f"{_READ}{m[1]}{_READ_END}", m.start(0), m.end(0)

    def _as_text(self, inside: str) -> str:
        """Where code, escapes and links were taken out before, their text stands again, without their signs."""
        taken = self.md.treeprocessors["inline"].stashed_nodes  # type: ignore[attr-defined]

        def put_back(mark: re.Match[str]) -> str:
            node: Element | str = taken.get(mark[1], "")
            if isinstance(node, str):
                return node
            text = "".join(node.itertext())
            return unescape(text) if node.tag == "code" else INLINE_PLACEHOLDER_RE.sub(put_back, text)

        return UnescapeTreeprocessor().unescape(INLINE_PLACEHOLDER_RE.sub(put_back, inside))


class Bindings(Extension):
    """The Markdown extension: (= ... =) anywhere in running text. *typed* is filled while converting."""

    def __init__(self, typed: dict[int, str]) -> None:
        super().__init__()
        self.typed = typed

    def extendMarkdown(self, md: markdown.Markdown) -> None:
        # After code (190), escapes (180) and links (160), before emphasis (60), so that ids keep their underscores.
        md.inlinePatterns.register(_Reader(md, self.typed), "likeloss-binding", 145)


def marked_html(text: str) -> Marked:
    """The HTML of an article's text, its bindings read but not yet looked up."""
    text = _PRIVATE.sub("", text)
    lines: dict[int, int] = {}

    def numbered(opening: re.Match[str]) -> str:
        lines[len(lines)] = text.count("\n", 0, opening.start()) + 1
        return f"(={_RAW}{len(lines) - 1}{_RAW_END}"

    typed: dict[int, str] = {}
    raw = markdown.markdown(
        OPEN.sub(numbered, text),
        extensions=["tables", "fenced_code", "sane_lists", Bindings(typed)],
        output_format="html",
    )
    lowered = re.sub(r"<(/?)h([1-5])\b", lambda m: f"<{m[1]}h{int(m[2]) + 1}", raw)
    clean = nh3.clean(lowered, tags=_TAGS, attributes=_ATTRIBUTES, url_schemes=_SCHEMES, link_rel="noopener nofollow")
    boxed = clean.replace("<table>", '<div class="scroll" tabindex="0" role="group" aria-label="Table"><table>')
    boxed = boxed.replace("</table>", "</table></div>").replace("<th>", '<th scope="col">')
    standing = {int(m[1]) for m in MARK.finditer(boxed)}
    in_code = {int(m[1]) for code in _CODE.finditer(boxed) for m in _UNREAD.finditer(code[0])}
    lost = [number for number in lines if number not in standing | in_code and not _inside(number, typed)]
    return Marked(
        _UNREAD.sub("", boxed),
        {number: (lines[number], typed[number]) for number in sorted(standing)},
        tuple(lines[number] for number in lost),
    )


def _inside(number: int, typed: dict[int, str]) -> bool:
    """Whether a "(=" was taken for the words of an earlier binding; that one is refused for it."""
    return any(OPEN.search(inside) for earlier, inside in typed.items() if earlier < number)


def typed_text(text: str) -> Iterator[tuple[int, str]]:
    """(line number, its text) of what the author typed: without bindings, code, comments and targets of links."""
    blanked = _NOT_TYPED.sub(lambda m: re.sub(r"[^\n]", " ", m[0]), text)
    yield from enumerate(blanked.split("\n"), start=1)


_NOT_TYPED = re.compile(
    r"^(?P<fence>`{3,}|~{3,}).*?^(?P=fence)[ \t]*$"  # fenced code
    r"|(?P<ticks>`+)(?:(?!\n\n).)+?(?P=ticks)"  # code in a line
    r"|\(=\s*[A-Za-z].*?=\)"  # bindings
    r"|<!--.*?-->|\]\([^)\n]*\)|<https?:[^>\n]*>",
    re.DOTALL | re.MULTILINE,
)

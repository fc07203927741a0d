"""The rows of a table as HTML. A site has a million cells, and a macro a cell takes half of the time of its pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from markupsafe import Markup, escape

from builder.pages.parts.blocks import Entry, Heading, Table


def rows_html(table: Table) -> Markup:
    """A line for each row, all of its texts escaped."""
    folds = table.folds
    row_role, head_role = (' role="row"', ' role="rowheader"') if folds else ("", "")
    openings = _openings(table.columns[1:], folds=folds)
    parts: list[str] = []
    for row in table.rows:
        parts += "<tr", row_role, *_attribute("id", row.key), *_attribute("data-facets", row.facets)
        parts += '><th scope="row"', head_role, ">", *_inside(row.head), "</th>"
        for opening, entry in zip(openings, row.entries, strict=True):
            parts += opening, *_attribute("data-sort", entry.sort_key), ">", *_inside(entry), "</td>"
        parts.append("</tr>\n")
    return Markup("".join(parts))


def _openings(columns: Sequence[Heading], *, folds: bool) -> list[str]:
    """The tag that opens a cell of each column, but for its end."""
    return [
        "".join(
            (
                "<td",
                *_attribute("class", column.style),
                *(folds * (' role="cell"', *_named("data-column", column.text))),
            )
        )
        for column in columns
    ]


def _attribute(name: str, value: str) -> Sequence[str]:
    return _named(name, value) if value else ()


def _named(name: str, value: str) -> Sequence[str]:
    return " ", name, '="', escape(value), '"'


def _inside(entry: Entry) -> Iterator[str]:
    """What stands in a cell; one without a value says why, for an empty cell would leave the reader guessing."""
    if entry.text:
        text = escape(entry.text)
        yield from ('<a href="', escape(entry.href), '">', text, "</a>") if entry.href else (text,)
        if entry.unit:
            yield "&nbsp;"
            yield escape(entry.unit)
        if entry.interval:
            yield from (' <span class="interval">', escape(entry.interval), "</span>")
        if entry.note:
            yield from (' <span class="note">', escape(entry.note), "</span>")
    elif entry.why_missing:
        yield from ('<span class="missing">', escape(entry.why_missing), "</span>")
    for mark in entry.marks:
        yield from (' <a class="mark" href="', escape(mark.href), '" title="', escape(mark.note), '">')
        yield from (escape(mark.text), "</a>")

"""Pages that grow with the bench: a long table is cut, and its other rows go to leaves, separate pages beside it.

So a page stays light on a phone after ten years of tests, and complete without scripts. With scripts the whole table
is put together again when a reader sorts or filters it (site_templates/js/whole_table.mjs).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from itertools import pairwise
from typing import Any, ClassVar, TypeVar
from urllib.parse import unquote

from builder import addresses, wording
from builder.pages.parts.blocks import Drawing, Entry, Fact, Link, Page, Rest, Row, Table

PAGE_LIMIT_BYTES = 250_000
"""What a browser may fetch at most before it can show a page, without photos. [B]"""

# Bytes of tables, as `weight_of` counts them, on a page without charts, on one with charts, and on a leaf.
PAGE_ROOM = 130_000
ROOM_BESIDE_CHARTS = 64_000
LEAF_ROOM = 140_000
FEWEST_ROWS = 3

# Bytes of the tags of a row, an entry, a link, a remark and a mark.
_ROW, _ENTRY, _LINK, _REMARK, _MARK = 35, 30, 17, 32, 40
# Bytes of what the rows and cells of a table that folds say of themselves.
_FOLDED_ROW, _FOLDED_CELL = 20, 28

P = TypeVar("P", bound=Page)


@dataclass(frozen=True, kw_only=True)
class LeafPage(Page):
    """Rows of a table that do not fit on its page. *others* are the table's other leaves."""

    template: ClassVar[str] = "leaf"

    table: Table
    back: Link
    others: tuple[Link, ...]


def room_for_tables(page: Page) -> int:
    """How much of its tables a page has room for, as `weight_of` counts it, beside a usual amount of everything else. [B]"""
    return page.table_room or (ROOM_BESIDE_CHARTS if page.drawings else PAGE_ROOM)


def with_leaves(page: P, *, room: int | None = None, fewest: int = FEWEST_ROWS) -> tuple[P, tuple[LeafPage, ...]]:
    """The page with its long tables cut to what there is room for, and the leaves with the other rows.

    room    for tables [B]; None for `room_for_tables`
    fewest  rows that a table keeps, whatever the room; with 0 a heavy one keeps none
    """
    if not page.grows:
        return page, ()
    tables = list(_tables(page))
    weights = [weight_of(table) for table in tables]
    allowed = share(weights, room=room_for_tables(page) if room is None else room)
    cut: dict[str, Table] = {}
    leaves: list[LeafPage] = []
    for table, whole, room in zip(tables, weights, allowed, strict=True):
        if whole > room:
            shown = max(fewest, _fitting(table, room=room))
            if shown < len(table.rows):
                cut[table.key], more = _cut(page, table, shown)
                leaves += more
    if not cut:
        return page, ()
    places = {row.key: leaf.address for leaf in leaves for row in leaf.table.rows if row.key}
    kept, *others = (_leading_on(one, one.address, page.address, places) for one in (_with_tables(page, cut), *leaves))
    return kept, tuple(others)


def rests_of(page: Page) -> list[Rest]:
    """The rows of a page's tables that lie elsewhere."""
    return [table.rest for table in _tables(page) if table.rest is not None]


def share(weights: Sequence[int], *, room: int) -> list[int]:
    """How much of *room* each gets: light ones all they need, heavy ones equal parts of what is left."""
    left, allowed = room, [0] * len(weights)
    for done, place in enumerate(sorted(range(len(weights)), key=lambda i: weights[i])):
        allowed[place] = min(weights[place], max(0, left) // (len(weights) - done))
        left -= allowed[place]
    return allowed


def weight_of(table: Table) -> int:
    """Approximate size of the rows of a table in its page. [B]"""
    return sum(_weights(table, table.rows))


def _weights(table: Table, rows: Sequence[Row]) -> Iterator[int]:
    """Approximate size of each of *rows* in the page of their table. [B]"""
    each = _FOLDED_ROW + sum(_FOLDED_CELL + len(column.text) for column in table.columns) if table.folds else 0
    return (each + _weight(row) for row in rows)


def _weight(row: Row) -> int:
    return _ROW + len(row.facets) + len(row.key) + sum(map(_entry_weight, (row.head, *row.entries)))


def _entry_weight(entry: Entry) -> int:
    total = _ENTRY + len((entry.text + entry.unit).encode()) + len(entry.sort_key)
    total += _LINK + len(entry.href) if entry.href else 0
    total += sum(_MARK + len((mark.text + mark.href + mark.note).encode()) for mark in entry.marks)
    return total + sum(_REMARK + len(t.encode()) for t in (entry.interval, entry.note, entry.why_missing) if t)


def _fitting(table: Table, *, room: int, start: int = 0) -> int:
    """How many of the rows from *start* on fit."""
    rows = table.rows[start:]
    for count, weight in enumerate(_weights(table, rows)):
        room -= weight
        if room < 0:
            return count
    return len(rows)


def _cut(page: Page, table: Table, shown: int) -> tuple[Table, list[LeafPage]]:
    folder = page.address.rpartition("/")[0]
    ends = [0, shown] if shown else [0]
    while ends[-1] < len(table.rows):
        ends.append(ends[-1] + max(1, _fitting(table, room=LEAF_ROOM, start=ends[-1])))
    spans = list(pairwise(ends))
    elsewhere = len(spans) - 1 if shown else len(spans)
    leaf_places = [addresses.leaf(page.address, table.key, n) for n in range(2, elsewhere + 2)]
    places = [page.address, *leaf_places] if shown else leaf_places
    links = [
        Link(_span(*span), addresses.link(page.address, place), _ends(table.rows[slice(*span)]))
        for span, place in zip(spans, places, strict=True)
    ]
    key = f"rows/{folder}/{table.key}"
    rest = Rest(
        rows=table.rows[shown:],
        words=f"{_span(*spans[0])} of {len(table.rows)}."
        if shown
        else f"{wording.count(len(table.rows), 'row')}, too long for this page:",
        links=tuple(links[-elsewhere:]),
        href=addresses.link(page.address, addresses.script_data(key)),
        key=key,
    )
    on_leaves = list(zip(spans, places, strict=True))[-elsewhere:]
    leaves = [_leaf(page, table, span, place, links) for span, place in on_leaves]
    return replace(table, rows=table.rows[:shown], rest=rest), leaves


def _leaf(page: Page, table: Table, span: tuple[int, int], place: str, links: Sequence[Link]) -> LeafPage:
    rows = table.rows[slice(*span)]
    name = re.split(r"[,.;:] ", table.caption)[0]
    words = f"{name}: {_span(*span).lower()} of {len(table.rows)}"
    return LeafPage(
        address=place,
        title=f"{page.title}. {words}",
        question=page.question,
        verdict=f"{words}, {_ends(rows)}.",
        cannot_say=page.cannot_say,
        provenance=page.provenance,
        table=replace(table, rows=rows),
        back=Link(f"Back to “{page.title}”", addresses.link(place, page.address)),
        others=tuple(link for link in links if link.text != _span(*span)),
    )


def _span(start: int, end: int) -> str:
    return f"Rows {start + 1} to {end}" if end - start > 1 else f"Row {end}"


def _ends(rows: Sequence[Row]) -> str:
    first, last = rows[0].head.text, rows[-1].head.text
    return first if first == last else f"{first} to {last}"


def _leading_on(part: Any, here: str, page: str, places: Mapping[str, str]) -> Any:
    """A page, a leaf or a part of either, its links within the page redirected to where their targets lie now.

    here    the address that the links are on
    page    the address they were made for
    places  fragment -> the leaf it moved to; fragments not in it stayed on the page
    """
    if isinstance(part, str):
        return part
    if isinstance(part, tuple):
        return tuple(_leading_on(one, here, page, places) for one in part)
    if not is_dataclass(part) or isinstance(part, Drawing | Rest | type):  # rests are put back into the page itself
        return part
    parts = {f.name: getattr(part, f.name) for f in fields(part)}
    # Most of a page's many cells stay what they are.
    changed = {name: new for name, one in parts.items() if (new := _leading_on(one, here, page, places)) != one}
    if isinstance(part, Link | Entry | Fact) and part.href.startswith("#"):
        fragment = unquote(part.href[1:])
        changed["href"] = addresses.link(here, places.get(fragment, page), fragment)
    return replace(part, **changed) if changed else part


def _tables(part: Any) -> Iterator[Table]:
    """The tables of a page, in reading order."""
    if isinstance(part, Table):
        yield part
    elif isinstance(part, tuple):
        for one in part:
            yield from _tables(one)
    elif is_dataclass(part) and not isinstance(part, Drawing):
        for field in fields(part):
            yield from _tables(getattr(part, field.name))


def _with_tables(part: Any, cut: Mapping[str, Table]) -> Any:
    """The page or a part of it, with tables taken from *cut* by their key."""
    if isinstance(part, Table):
        return cut.get(part.key, part)
    if isinstance(part, tuple):
        return tuple(_with_tables(one, cut) for one in part)
    if is_dataclass(part) and not isinstance(part, Drawing | type):
        return replace(part, **{f.name: _with_tables(getattr(part, f.name), cut) for f in fields(part)})
    return part

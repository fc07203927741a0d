"""Tables from columns that carry their own cell: each says what it is called and what it shows of a row's subject."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from builder.pages.parts.blocks import Entry, Heading, Row, Table

Subject = TypeVar("Subject", contravariant=True)


@dataclass(frozen=True, slots=True)
class Column(Generic[Subject]):
    """One column. Numbers are set flush right; sentences get room, so that no cell becomes a tower.

    cell     what stands in it, of what the row is about
    decides  whether it is the column that readers come for (`blocks.Heading`)
    """

    heading: str
    cell: Callable[[Subject], Entry]
    numeric: bool = False
    sentence: bool = False
    decides: bool = False


def _nothing(subject: object) -> str:
    return ""


def table_of(
    subjects: Iterable[Subject],
    columns: Sequence[Column[Subject]],
    *,
    key: str,
    caption: str,
    repeats: bool = False,
    row_key: Callable[[Subject], str] = _nothing,
    facets: Callable[[Subject], str] = _nothing,
) -> Table:
    """A table with a row for each of *subjects*, in their order. The first column heads the row.

    repeats          of the caption (`blocks.Table`)
    row_key, facets  of a row (`blocks.Row`), of what it is about
    """
    first, *others = columns
    return Table(
        key=key,
        caption=caption,
        repeats=repeats,
        columns=tuple(Heading(c.heading, numeric=c.numeric, sentence=c.sentence, decides=c.decides) for c in columns),
        rows=tuple(
            Row(
                first.cell(subject),
                tuple(column.cell(subject) for column in others),
                key=row_key(subject),
                facets=facets(subject),
            )
            for subject in subjects
        ),
    )

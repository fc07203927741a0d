"""Whether the day or the month stands first in the dates of a column that end in the year.

A day above 12 anywhere shows it for the whole column of a file. Without such a day nobody can tell, and it is asked
once, for the column.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from catalog.checking.answers import Answers
from catalog.checking.troubles import Trouble
from catalog.problems import Question

DAY_FIRST, MONTH_FIRST = "day first", "month first"
ORDERS = (DAY_FIRST, MONTH_FIRST)
CODE = "two-dates"

_BY_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?=$|[T ,])")


def shown_order(texts: Iterable[str]) -> str | None:
    """The order that days above 12 show; None where none does, or both are shown."""
    shown = set()
    for text in texts:
        if (match := _BY_PARTS.match(text.strip())) is not None:
            first, second = int(match[1]), int(match[3])
            if first > 12 >= second:
                shown.add(DAY_FIRST)
            elif second > 12 >= first:
                shown.add(MONTH_FIRST)
    return shown.pop() if len(shown) == 1 else None


def settled_order(
    texts: Sequence[str], answers: Answers, tables: Iterable[str], *, among: str, columns: Iterable[str]
) -> str | None:
    """The order in a column of dates, as one of them or a person says it; the names as `Answers.to_cause` takes them."""
    if (shown := shown_order(texts)) is not None or not any(map(is_either, texts)):
        return shown
    return answers.to_cause(CODE, tables, row=0, among=among, columns=columns, options=ORDERS)


def in_order(text: str, order: str | None) -> str:
    """A date that can be two by itself with its year first, as *order* says; any other text as it is."""
    match = _BY_PARTS.match(text.strip())
    if order is None or match is None or not is_either(text):
        return text
    day, month = (match[1], match[3]) if order == DAY_FIRST else (match[3], match[1])
    return f"{match[4]}-{month}-{day}{text.strip()[match.end() :].replace(',', ' ', 1)}"


def is_either(text: str) -> bool:
    """Whether a text can be two dates."""
    match = _BY_PARTS.match(text.strip())
    return match is not None and match[1].zfill(2) != match[3].zfill(2) and max(int(match[1]), int(match[3])) <= 12


def asked_of_column(trouble: Trouble, table: str, column: str) -> Trouble:
    """The trouble with such a date, as the question about all of its column."""
    choices = " or ".join(f'"{order}"' for order in ORDERS)
    remedy = "Or write the year first."
    return Trouble(
        f"{trouble.expected} No other date of the column shows which.",
        f'Answer it once in answers.toml: cause = "{CODE}", table = "{table}", column = "{column}", means = {choices}. '
        f"{remedy}",
        CODE,
        question=Question(table=table, options=ORDERS, remedy=remedy.removeprefix("Or ").capitalize()),
    )

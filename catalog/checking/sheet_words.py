"""Problems of a workbook in its own words: a sheet and a row where a folder has a file and a table of TOML."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from catalog.errors import Problem
from catalog.reading.thing_sheets import ANSWERS, BATCH, THING_SHEETS

_SHEET_OF = {".".join(sheet.path): title for title, sheet in THING_SHEETS.items()} | {"workload.role": "Roles"}


def _sheet(match: re.Match[str]) -> str:
    return f"a row of the sheet {_SHEET_OF.get(match[1], BATCH)}"


_WORDS: tuple[tuple[str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"under \[defaults\.([a-z]+)\] in batch\.toml", rf"as defaults.\1 and the column in the sheet {BATCH}"),
    (
        r'list both under \[tables\]: ([a-z]+) = \["(.*?)", "(.*?)"\]',
        rf"write \2; \3 as tables.\1 in the sheet {BATCH}",
    ),
    (r"the list of \[tables\]", f"the list in the sheet {BATCH}"),
    (r"\[\[answer\]\]", f"the sheet {ANSWERS}"),
    (r"\[\[([a-z.]+)\]\]", _sheet),
    (r"\[(method|site|embargo|defaults|tables)\]", _sheet),
    (r"answers\.toml", f"the sheet {ANSWERS}"),
    (r'(\w+) = "([^"]*)" in batch\.toml', rf"\1 and \2 in the sheet {BATCH}"),
    (r"Register it in batch\.toml", "Register it in its sheet"),
    (r"stands at the top of batch\.toml, before the first line with a bracket", f"stands in the sheet {BATCH}"),
    (r"in batch\.toml", "in the workbook"),
    (r"further up in this file", "further up in this workbook"),
    (r"Add (\w+) = … there\.", r"Fill in \1 there."),
    (r"Write true or false\.", "Write yes or no."),
    (r"Write it without quotes, with a point\.", "Write a number."),
    (
        r"Is a decimal comma being read as a separator\? Quote the cell or use semicolons\.",
        "Name the column, or clear the cell.",
    ),
    (r"write supersedes = true beside it", "write yes under supersedes"),
)


def in_words_of_sheets(problem: Problem) -> Problem:
    """The same problem, with remedies that can be done in a workbook."""
    question = problem.question
    if question is not None:
        question = replace(question, remedy=_said(question.remedy), where=f"the sheet {ANSWERS}")
    return replace(problem, expected=_said(problem.expected), remedy=_said(problem.remedy), question=question)


def _said(sentence: str) -> str:
    for pattern, words in _WORDS:
        sentence = re.sub(pattern, words, sentence)
    return sentence

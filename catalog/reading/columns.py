"""One column of a table of the batch format, and the columns of results that are summaries already."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from catalog.units import MBIT_S, MILLISECONDS, Unit

Kind = Literal["text", "count", "number", "level", "throughput", "when", "date", "choice", "band", "yesno", "file"]


def same(*words: str) -> Mapping[str, str]:
    """Choices that are typed as they are stored."""
    return MappingProxyType({word: word for word in words})


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table.

    name      as written in an export; a column with a unit ends in it
    kind      how its cells are read
    required  after defaults every row has a value
    unit      the unit its numbers are kept in
    low, high what a number may be at least and at most
    choices   typed word in small letters -> stored word
    synonyms  further headers taken for it, in small letters and without its unit
    unless    a required column may be blank where this one has a value
    unit_of   its header may leave the unit to that of this column
    as_number of a text: whether a sheet may hold it as a number, which has lost its last zeros: any, whole, none
    """

    name: str
    kind: Kind = "text"
    required: bool = False
    unit: Unit | None = None
    low: float | None = None
    high: float | None = None
    choices: Mapping[str, str] = field(default_factory=dict)
    synonyms: tuple[str, ...] = ()
    unless: str = ""
    unit_of: str = ""
    as_number: Literal["any", "whole", "none"] = "any"


SUMMARY = (
    Column(name="of_runs", kind="count", low=2, high=10_000, synonyms=("n", "runs", "number of runs", "n runs")),
    Column(
        name="spread",
        kind="number",
        unit=MBIT_S,
        low=0,
        unit_of="throughput",
        synonyms=("sd", "std", "stdev", "std dev", "standard deviation"),
    ),
    Column(name="statistic", kind="choice", choices=same("mean", "median"), synonyms=("mean or median",)),
)
"""Columns of a row that is a summary of several runs."""

NOTED = (
    Column(name="on_time_share", kind="number", low=0, high=1, synonyms=("on time", "share on time")),
    Column(name="mark_ms", kind="number", unit=MILLISECONDS, low=0.001, synonyms=("mark",)),
    *(Column(name=f"p{percent}_ms", kind="number", unit=MILLISECONDS, low=0) for percent in (50, 75, 90, 95, 99)),
)
"""Columns of a role as it was noted then, without a log."""

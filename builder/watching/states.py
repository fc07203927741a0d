"""What a watch shows, as plain data: made in the process that looks, shown by the one that serves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

Row = Mapping[str, Any]
"""A row of the catalogue. (Who shows a state imports nothing of the catalogue's checks, nor numpy.)"""

Place = tuple[str, str, int]
"""File of the batch, its table ("runs"), and the row as a spreadsheet counts."""


@dataclass(frozen=True, slots=True)
class Sense:
    """One sentence about a row or its log.

    code    stable, of lower-case words with hyphens
    grave   the result is not to be used as it stands; otherwise it is to be looked at
    text    what is wrong
    remedy  what to do while the device still hangs there: "Repeat S4 download 2." names the cell
    asks    the answers of a question of `check`, where one click settles it; else none
    column  that the question is about, as typed in the table
    free    the answer may be any text, `asks` are only proposals
    """

    code: str
    text: str
    remedy: str = ""
    grave: bool = False
    place: Place | None = None
    log: str = ""
    asks: tuple[str, ...] = ()
    column: str = ""
    free: bool = False


@dataclass(frozen=True, slots=True)
class Measured:
    """A row of the day of which something has come.

    place     of its planned row, or of the row that the tester filled
    order     in the plan, from 1 on
    values    its row of the catalogue as `check` made it; of one that is held, its texts by column
    digest    of its log; empty where there is none, and of requests whose row is held
    started   first and last instant of the log by its own clock; None where it states none
    arrived   when its last byte came, by the clock of this machine; None for a row without a log
    """

    place: Place
    order: int
    values: Row
    digest: Mapping[str, float]
    log: str = ""
    started: datetime | None = None
    ended: datetime | None = None
    arrived: datetime | None = None


@dataclass(frozen=True, slots=True)
class DayRow:
    """A row of the day on the page.

    state   open, landed (its log is there, nothing written yet), noted (in a table or in the desk), held
    what    "Rondel 6, S4, download, repeat 2" in the words of the site
    value   "612 Mbit/s", "" while there is none
    typed   columns that the tester may add -> what stands there (level_dbm, note; when, where a log has landed that
            states no time), of every row that is not noted: open ones, too, and held ones
    """

    place: Place
    order: int
    what: str
    state: str
    log: str = ""
    at: str = ""
    value: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    senses: tuple[Sense, ...] = ()


@dataclass(frozen=True, slots=True)
class OtherLog:
    """A log that no row names: which open row it is likely of, and the others it may be of, in running order."""

    log: str
    likely: Place | None
    may_be: tuple[Place, ...]
    senses: tuple[Sense, ...] = ()


@dataclass(frozen=True, slots=True)
class Writing:
    """What a click would write: file of the desk -> its whole text, and the lines that are new; told apart by key.

    The key does not depend on what is typed on the page, which goes along with the click.
    rows  planned rows that would be noted
    """

    key: str = ""
    texts: Mapping[str, str] = field(default_factory=dict)
    added: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    rows: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class SoFar:
    """What the results say until now; a sentence is "" while there is nothing to say.

    picture  the line with its band beside the older devices, as SVG of the site; "" for none
    """

    picture: str = ""
    line: str = ""
    verdict: str = ""
    promise: str = ""
    behind: bool = False
    pays_next: str = ""
    cells: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class State:
    """Everything that the page shows.

    trouble  why the batch cannot be read at all; the rest is then as it was before
    senses   about the batch as a whole
    """

    title: str
    rows: tuple[DayRow, ...] = ()
    others: tuple[OtherLog, ...] = ()
    senses: tuple[Sense, ...] = ()
    writing: Writing = Writing()
    so_far: SoFar = SoFar()
    trouble: tuple[str, ...] = ()

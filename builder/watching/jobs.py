"""What the process that looks is asked, and what it answers beside the state: plain data, as both sides have it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from builder.watching.states import Place, State

QUIET_S = 2.1  # since the last change, until a file counts as whole; above the coarsest step of a file's times (FAT)
LONG_QUIET_S = 5.0  # the same for one that ends in the middle of a line
KEEP = "keep as it is"
"""What may be said of a run that is in question: else it is not noted, for it is likely repeated under its name."""

REPEATED = "repeated-after-noting"
"""What asks whether a run was repeated after its row was noted."""


class FileState(NamedTuple):
    """What tells a file from what it was: size, times [ns] and number."""

    size: int
    written_ns: int
    changed_ns: int
    inode: int


class Asked(NamedTuple):
    """A question of a row: its place in the plan, the code of the sense, and the column it is about."""

    place: Place
    code: str
    column: str


@dataclass(frozen=True, slots=True)
class Question:
    """What an answer to it may be, and how it is written.

    code     by which `check` asks it; the sense that it goes along with may have another
    options  what it may mean; with *free*, proposals
    typed    the text that it is about, where the answer replaces a text; of KEEP the log as it is; else None
    written  option -> what the answer says instead, where that is not the same
    """

    code: str
    options: tuple[str, ...]
    free: bool
    typed: str | None = None
    written: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Answer:
    """A question that was answered by a click, and not written yet."""

    asked: Asked
    code: str
    means: str
    typed: str | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """One look.

    kept     the folder with the logs that were read
    came     number of a file and time of its last writing [ns] -> when that was, by the clock of this machine, of logs
             that were watched then
    typed    on the page, of rows that are not written yet
    given    log -> the planned row that a person said it is of
    seen     file -> what it was, and for how long it was that. [s]
    shunned  logs that brought down the process that read them, as they were then
    """

    batch: Path
    catalog: Path
    kept: Path
    now: datetime
    came: Mapping[tuple[int, int], datetime] = field(default_factory=dict)
    typed: Mapping[Place, Mapping[str, str]] = field(default_factory=dict)
    given: Mapping[str, Place] = field(default_factory=dict)
    answers: tuple[Answer, ...] = ()
    seen: Mapping[str, tuple[FileState, float]] = field(default_factory=dict)
    shunned: Mapping[str, FileState] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look saw.

    files      those that a log may be
    folders    in which they lie; resolved
    young      those that may still be growing: another look is due after so long. [s]
    questions  those that an answer may settle
    refused    why nothing was written, where the look was to write
    no_batch   there is none to look at
    """

    state: State
    files: Mapping[str, FileState] = field(default_factory=dict)
    folders: tuple[Path, ...] = ()
    young: Mapping[Path, float] = field(default_factory=dict)
    questions: Mapping[Asked, Question] = field(default_factory=dict)
    refused: tuple[str, ...] = ()
    no_batch: bool = False

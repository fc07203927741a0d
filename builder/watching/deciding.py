"""What was decided by clicks and is not written yet, each to be taken back by another: a hand at a bench slips."""

from __future__ import annotations

from dataclasses import dataclass

from builder.watching.forms import log_key, sense_key
from builder.watching.jobs import REPEATED
from builder.watching.states import Place, Sense, State
from builder.watching.watch import Watch


@dataclass(frozen=True, slots=True)
class Given:
    """A log that no row names was said to be of a row."""

    log: str
    place: Place
    what: str

    @property
    def key(self) -> str:
        return log_key(self.log)

    @property
    def text(self) -> str:
        return f"{self.log} is of {self.what}."

    async def take_back(self, watch: Watch) -> list[str]:
        return await watch.give(self.log, None)


@dataclass(frozen=True, slots=True)
class Answered:
    """A question was answered."""

    sense: Sense
    place: Place
    answer: str
    what: str

    @property
    def key(self) -> str:
        return sense_key(self.sense)

    @property
    def text(self) -> str:
        return f"{self.what + ': ' if self.what else ''}“{self.answer}”, to “{self.sense.text}”"

    async def take_back(self, watch: Watch) -> list[str]:
        return await watch.take_back(self.place, self.sense.code, column=self.sense.column)


Decision = Given | Answered


def still_open(decisions: list[Decision], state: State) -> list[Decision]:
    """Those that are not written yet: of a row that is noted an answer may wait by itself."""
    noted = {row.place for row in state.rows if row.state == "noted"}
    waiting = any(lines for file, lines in state.writing.added.items() if file.endswith(".toml"))
    return [
        one
        for one in decisions
        if one.place not in noted or (waiting and isinstance(one, Answered) and one.sense.code == REPEATED)
    ]


def what_is(state: State, place: Place) -> str:
    """The row of a place in words, "" where it is in no plan."""
    return next((row.what for row in state.rows if row.place == place), "")

"""What `check` says of a day, as sentences of its rows, and the questions among it that a click settles."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from builder.watching.jobs import Asked, Question
from builder.watching.landed import Landed
from builder.watching.states import Place, Sense
from catalog.checking.batches import Checked
from catalog.problems import Problem

_WATCHED = "planned-with-log"  # what a watch is there for


@dataclass
class Judged:
    """Sentences by row and by log, those about the batch as a whole, the rows that are held, and the questions."""

    of_rows: dict[Place, list[Sense]] = field(default_factory=dict)
    of_batch: list[Sense] = field(default_factory=list)
    held: set[Place] = field(default_factory=set)
    questions: dict[Asked, Question] = field(default_factory=dict)

    def say(self, sense: Sense) -> None:
        """One more sentence."""
        if sense.place is None:
            self.of_batch.append(sense)
        else:
            self.of_rows.setdefault(sense.place, []).append(sense)


def judged(
    checked: Checked,
    rows: Mapping[tuple[str, str, int], Place],
    logs: Mapping[str, Sequence[Place]],
    *,
    landing: Iterable[str],
    timeless: Mapping[Place, Landed] | None = None,
) -> Judged:
    """The problems and warnings of a check.

    rows     where each row of the day stands, as a problem names it
    logs     path -> the rows that it is of
    landing  logs of planned rows that a watch has seen, and that are not in the batch's rows yet
    timeless  rows whose log states no time, or cannot be read at all
    """
    result, seen, timed = Judged(), set(landing), timeless or {}
    for problem, grave in (*((one, True) for one in checked.problems), *((one, False) for one in checked.warnings)):
        if problem.code == _WATCHED and PurePosixPath(problem.value.rpartition(":")[2]).as_posix() in seen:
            continue
        places: Sequence[Place | None] = logs.get(problem.file or problem.table, ())
        if (place := rows.get((problem.file or problem.table, problem.table, problem.row))) is not None:
            places = [place]
        if place is not None and place in timed and (problem.code, problem.column) == ("missing", "when"):
            result.held.add(place)
            if timed[place].kind:  # of one that cannot be read it only follows
                sentence = f"{timed[place].path} says no time of day, so when it was is not known."
                result.say(Sense("no-time", sentence, "Type it beside the log.", True, place, timed[place].path))
            continue
        for one in places or [None]:
            result.say(_sense(problem, one, result.questions, grave=grave))
            if grave and one is not None:
                result.held.add(one)
    return result


def _sense(problem: Problem, place: Place | None, questions: dict[Asked, Question], *, grave: bool) -> Sense:
    question = problem.question
    log = problem.value if problem.column == "log" else ""
    if question is None or place is None or problem.by_cell or problem.follows is not None:
        where = "" if place is not None else f"{problem.place}: "
        return Sense(problem.code, f"{where}{problem.expected}", problem.remedy, grave, place, log)
    asked = Asked(place, problem.code, problem.column)
    free = question.by_text or not question.options
    questions[asked] = Question(problem.code, question.options, free, problem.value if question.by_text else None)
    return Sense(
        problem.code,
        problem.expected,
        question.remedy,
        grave,
        place,
        log,
        asks=question.options,
        column=problem.column,
        free=free,
    )

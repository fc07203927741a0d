"""Looks at a planned day, without a process of their own (fixtures: conftest.py)."""

from dataclasses import replace

from builder.watching import looks
from builder.watching.jobs import Answer, Asked


def look(job, **changes):
    """The state."""
    return looks.look(replace(job, **changes)).state


def write(job, **changes):
    """Why what a look shows is not written, and the state after."""
    job = replace(job, **changes)
    seen = looks.look_and_write(job, looks.look(job).state.writing.key)
    return list(seen.refused), seen.state


def row_of(state, log):
    """The row of the day with a log."""
    return next(row for row in state.rows if row.log == log)


def answer(job, sense, means):
    """A click on an answer of a sentence."""
    asked = Asked(sense.place, sense.code, sense.column)
    question = looks.look(job).questions[asked]
    assert question.free or means in question.options
    return Answer(asked, question.code, question.written.get(means, means), question.typed)

"""Why a row that figures rest on differs from what it was when a site was published.

The catalogue changes only by acts that leave a trace: batches, corrections, withdrawals, and embargoes that end. A row
that none of them explains was changed some other way, and that stops a publication. What an embargo hides is never asked for
a reason: nothing may stand between an embargo and its effect.

Causes are published, so they name what the new public copy names (`acts`), and no more.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

from builder import wording
from builder.publishing.changing.acts import Acts, Rows, values_of
from catalog.marks import in_workload
from catalog.queries import Fact
from catalog.records import Embargo
from catalog.visibility.fates import Fate, ToldCorrection


class Withdrawn(str):
    """A cause that takes a value out of view: its place stays, with the reason and without the value."""


class HiddenAgain(str):
    """A cause that hides what was public: no trace of it stays."""


_HIDDEN = HiddenAgain("it may not be shown any more")
_UNTOLD = "a correction"  # one that the copy leaves out, because it names something hidden


def cause(key: str, rows: Rows, acts: Acts) -> str | None:
    """Why the fact at *key* is not what it was; None where nothing in the catalogue says so."""
    was, shown = rows.was.get(key), rows.shown.get(key)
    table = json.loads(key)[0]
    if table == "method":
        reason = _of_method(rows, acts)
    elif shown is None and was is not None:
        reason = _went(key, was, rows, acts)
    elif was is None and shown is not None:
        reason = _came(key, shown, rows, acts)
    elif was is not None and shown is not None:
        reason = _changed(key, was, shown, rows, acts)
    else:
        raise ValueError(f"{key} is neither in the published site nor in the new one")
    return next(reason, None)


def _of_method(rows: Rows, acts: Acts) -> Iterator[str]:
    new = [batch for batch in acts.declared if batch not in acts.known]
    if new:
        yield f"the constants of the method, set by batch {_named(new[-1], acts)}"
    for embargo in acts.ended:
        if embargo.batch_id in acts.declared:
            yield f"the constants of the method: {_end(embargo, acts)}"
    whole = {key: fate.values for key, fate in rows.fates.rows.items() if json.loads(key)[0] == "method"}
    if whole != {key: fact.values for key, fact in rows.shown.items() if fact.table == "method"}:
        yield _HIDDEN


def _of_marks(key: str, acts: Acts) -> Iterator[str]:
    role = json.loads(key)[1]
    batch = acts.marked.get(role)
    if batch is None:
        return
    what = f"the marks of {_role_called(role)}"
    if batch not in acts.known:
        yield f"{what}, set by batch {_named(batch, acts)}"
    for embargo in acts.ended:
        if embargo.batch_id == batch:
            yield f"{what}: {_end(embargo, acts)}"


def _role_called(role_id: str) -> str:
    own = in_workload(role_id)
    return f"the role {own.role} of {own.workload}" if own else f"the role {role_id}"


def _went(key: str, was: Fact, rows: Rows, acts: Acts) -> Iterator[str]:
    fate = rows.fates.rows.get(key)
    if fate is None:  # its key was corrected
        now = (rows.fates.at(was.table, was.origin) if was.origin and was.origin[2] else None) or _partner(
            key, rows, acts
        )
        fate = rows.fates.rows[now] if now is not None else None
    if fate is None:
        return
    if fate.left_out == "withdrawn":
        for w in fate.withdrawals:
            yield Withdrawn(f"{w.what} {w.id} was withdrawn from {w.from_date}: {w.reason}")
        yield Withdrawn("it was withdrawn")
    elif fate.left_out == "hidden":
        yield _HIDDEN
    elif key not in rows.fates.rows:
        yield from _corrected(fate, acts)


def _partner(key: str, rows: Rows, acts: Acts) -> str | None:
    """The row that came by corrections of the key of one that went, where the copy does not give their places."""
    parts = json.loads(key)
    for other in rows.came.get(parts[0], ()):
        fate = rows.fates.rows.get(other)
        differing = sum(a != b for a, b in zip(parts, json.loads(other), strict=True))
        if fate is not None and any(_corrected(fate, acts)) and differing <= len(fate.corrections) + fate.untold:
            return other
    return None


def _came(key: str, shown: Fact, rows: Rows, acts: Acts) -> Iterator[str]:
    fate = rows.fates.rows.get(key)
    if fate is None:
        return
    if key not in rows.would:  # nothing was done: its instant came
        yield from _article_came(key, shown, acts)
        yield from _ended(shown, acts, first=_devices(key, shown, acts))
        yield "its embargo ended"
    if _of_new_batch(shown, fate, rows, acts):
        yield f"new batch {_named(_batch(shown, rows), acts)}"
    for embargo in acts.ended:
        if _covers(embargo, shown, _devices(key, shown, acts)):
            yield _end(embargo, acts)
    yield from _corrected(fate, acts)
    if acts.restored:
        yield "a withdrawal was corrected"


def _changed(key: str, was: Fact, shown: Fact, rows: Rows, acts: Acts) -> Iterator[str]:
    fate = rows.fates.rows.get(key)
    if fate is None:
        return
    yield from (_words(c) for c in fate.corrections if c in acts.fresh)
    if shown.table == "role":
        yield from _of_marks(key, acts)
    revealed = [str(value) for value in shown.values if value not in was.values]
    if values_of(rows.would.get(key)) == was.values:
        yield from _ended(shown, acts, first=revealed)
    if fate.values != shown.values:
        yield _HIDDEN
    yield from (_end(embargo, acts) for embargo in acts.ended if _covers(embargo, shown, revealed))
    if fate.untold:
        yield _UNTOLD


def _corrected(fate: Fate, acts: Acts) -> Iterator[str]:
    yield from (_words(c) for c in reversed(fate.corrections) if c in acts.fresh)
    if fate.untold:
        yield _UNTOLD


def _words(c: ToldCorrection) -> str:
    return f"{c.column} corrected on {c.date}: was {c.was}, now {c.now} ({c.reason})"


def _batch(shown: Fact, rows: Rows) -> str:
    return shown.origin[0] if shown.origin is not None else rows.batch_about.get(shown.about, "")


def _of_new_batch(shown: Fact, fate: Fate, rows: Rows, acts: Acts) -> bool:
    """A name that only this copy gives to a batch says nothing about the site before, where it may have had another."""
    batch = _batch(shown, rows)
    if batch in rows.fates.nameless:
        return fate.batch not in rows.batches_shown
    return batch in acts.titles and batch not in acts.known


def _article_came(key: str, fact: Fact, acts: Acts) -> Iterator[str]:
    if fact.table == "article":
        article = acts.articles[json.loads(key)[1]]
        if acts.since < article.published_utc <= acts.until:
            yield f"the review {article.article_id} was published at {article.published_utc}"


def _devices(key: str, fact: Fact, acts: Acts) -> Sequence[str]:
    """Devices a row belongs to, besides its own."""
    return acts.articles[json.loads(key)[1]].devices if fact.table == "article" else ()


def _ended(fact: Fact, acts: Acts, *, first: Sequence[str]) -> Iterator[str]:
    """Embargoes that ended meanwhile, the nearest first: on the row's thing, else beside it, else on what uses it."""
    ended = [embargo for embargo in acts.ended if acts.since < embargo.until_utc <= acts.until]
    batch = fact.origin[0] if fact.origin is not None else None
    yield from (_end(embargo, acts) for embargo in ended if _covers(embargo, fact, first))
    yield from (_end(embargo, acts) for embargo in ended if embargo.batch_id == batch)
    yield from (_end(embargo, acts) for embargo in ended)


def _covers(embargo: Embargo, fact: Fact, devices: Sequence[str]) -> bool:
    if embargo.subject == "batch":
        return fact.origin is not None and fact.origin[0] == embargo.batch_id
    if embargo.device != fact.device:
        return embargo.subject == "device" and embargo.device in devices
    return (embargo.unit or fact.unit) == fact.unit and (embargo.version or fact.firmware) == fact.firmware


def _end(embargo: Embargo, acts: Acts) -> str:
    what = {
        "device": embargo.device,
        "unit": f"unit {embargo.unit} of {embargo.device}",
        "firmware": f"firmware {embargo.version} of {embargo.device}",
        "batch": f"batch {_named(embargo.batch_id, acts)}",
    }[embargo.subject]
    return f"the embargo on {what} ended at {embargo.until_utc}"


def _named(batch: str, acts: Acts) -> str:
    title = acts.titles.get(batch)
    return f"{batch} ({title})" if title else batch


def fact_words(key: str) -> str:
    """A fact for a person: its table and what identifies it."""
    table, *parts = json.loads(key)
    return f"{table.replace('_', ' ')} {wording.listing([_plain(p) for p in parts if p is not None], 'and')}"


def _plain(part: object) -> str:
    return f"{part:g}" if isinstance(part, float) else str(part)

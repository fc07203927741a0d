"""Which public figures differ from those in the published site, and why: what `changes` lists and `publish` insists on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from sqlite_utils import Database

from builder import wording
from builder.pages.contents import Contents
from builder.publishing.changing.acts import Rows, acts_of, published_copy
from builder.publishing.changing.causes import HiddenAgain, cause, fact_words
from builder.publishing.changing.figures import Printed, Record, read_record, record_of
from builder.publishing.changing.touched import Touched, contents_of, touched_since
from catalog import queries
from catalog.errors import BuildRefused
from catalog.visibility import public_copy, row_fates
from catalog.visibility.fates import Fates

Kind = Literal["new", "changed", "gone"]


@dataclass(frozen=True, slots=True)
class Change:
    """One public figure that has changed. Without causes, nobody can say why.

    was, now  as printed; "" for a figure that is new or has gone
    """

    figure: str
    kind: Kind
    was: str
    now: str
    causes: tuple[str, ...]

    def __str__(self) -> str:
        # Texts and reasons may be whole sentences; here they are parts of one.
        was, now, *causes = (text.rstrip(".") for text in (self.was, self.now, *self.causes))
        what = {"new": f"new, {now}", "gone": f"gone, was {was}", "changed": f"was {was}, now {now}"}[self.kind]
        return f"{self.figure}: {what}. Cause: {wording.listing(causes) or 'nobody can say why'}."


@dataclass(frozen=True)
class Changes:
    """Everything that changes from the published site to now.

    since         its build instant
    as_of         the instant now
    figures       changed figures by id
    unexplained   rows that changed though no batch, correction, withdrawal or embargo says so
    redo          sentences of articles and stills that have changed
    """

    since: str
    as_of: str
    figures: Sequence[Change]
    unexplained: Sequence[str]
    redo: Sequence[Touched] = ()

    @property
    def hides(self) -> bool:
        """Whether something is hidden that the published site shows."""
        return any(isinstance(cause, HiddenAgain) for change in self.figures for cause in change.causes)

    @property
    def without_cause(self) -> list[str]:
        """What stops a publication, in sentences."""
        rows = [f"{row} changed, but no batch or correction explains it." for row in self.unexplained]
        return rows + [str(change) for change in self.figures if not change.causes]

    def to_json(self) -> dict[str, Any]:
        """The document of `changes --json`."""
        return {
            "since": self.since,
            "as_of": self.as_of,
            "changes": [
                {"figure": c.figure, "kind": c.kind, "was": c.was or None, "now": c.now or None, "causes": [*c.causes]}
                for c in self.figures
            ],
            "unexplained": list(self.unexplained),
            "articles": [one.to_json() for one in self.redo],
        }


def changes_since(catalog: Path, published: Path, *, as_of: datetime) -> Changes:
    """What a site of *catalog* at the instant *as_of* would print differently from the one in the folder *published*.

    Raises  BuildRefused: the folder holds no published site, or one of a later instant.
    """
    with closing(public_copy(catalog, as_of=as_of)) as copy:
        old = read_record(published)
        if old is None:
            raise BuildRefused(f"{published} holds no published site to compare with. Name one with --since.")
        contents = contents_of(copy, as_of=as_of)
        fates = row_fates(catalog, as_of=as_of)
        return changes_from(catalog, published, old, copy, contents, record_of(contents), fates=fates)


def changes_from(
    catalog: Path, published: Path, old: Record, copy: Database, contents: Contents, record: Record, *, fates: Fates
) -> Changes:
    """The same for an existing public copy, its contents and record, and the *fates* of its rows.

    old  the record of the site in the folder *published*
    """
    if old.as_of > record.as_of:
        raise BuildRefused(
            f"{published} shows the catalogue as of {old.as_of}, which is later than {record.as_of}. "
            "To take a publication back, use rollback."
        )
    since = datetime.fromisoformat(old.as_of).astimezone(UTC)
    with (
        published_copy(published) as was,
        closing(public_copy(catalog, as_of=since)) as would,
    ):
        rows = Rows(
            was=queries.facts(was),
            would=queries.facts(would),
            shown=queries.facts(copy),
            fates=fates,
        )
        acts = acts_of(copy, published=was, since=old.as_of, until=record.as_of)
        redo = touched_since(was, contents)
    why = {key: cause(key, rows, acts) for key in rows.changed()}
    return Changes(
        since=old.as_of,
        as_of=record.as_of,
        figures=_figures(old, record, rows, why),
        unexplained=[fact_words(key) for key, reason in why.items() if reason is None],
        redo=redo,
    )


def _figures(old: Record, new: Record, rows: Rows, why: Mapping[str, str | None]) -> list[Change]:
    by_tag: dict[str, dict[str, str | None]] = defaultdict(dict)
    for key, reason in why.items():
        for fact in (rows.was.get(key), rows.shown.get(key)):
            for tag in fact.about if fact else ():
                by_tag[tag][key] = reason
    redefined = [
        f"the definition of {name} is number {new.definitions.get(name)} now, was {old.definitions.get(name)}"
        for name in sorted(old.definitions.keys() | new.definitions.keys())
        if old.definitions.get(name) != new.definitions.get(name)
    ]
    changes: list[Change] = []
    for figure in sorted(old.figures.keys() | new.figures.keys()):
        was, now = old.figures.get(figure), new.figures.get(figure)
        if was is not None and now is not None and was.text == now.text:
            continue
        reasons = _reasons(figure, was, now, old, new, by_tag) or redefined
        if not reasons and (was is None or now is None) and figure.startswith("pair~"):
            reasons = _prepared(why)
        kind: Kind = "new" if was is None else "gone" if now is None else "changed"
        changes.append(
            Change(figure, kind, was.text if was else "", now.text if now else "", tuple(dict.fromkeys(reasons)))
        )
    return changes


def _reasons(
    figure: str,
    was: Printed | None,
    now: Printed | None,
    old: Record,
    new: Record,
    by_tag: Mapping[str, Mapping[str, str | None]],
) -> list[str]:
    """Causes of the rows a figure is about; of a rank also the devices that joined or left. Empty if a row has no cause."""
    tags = dict.fromkeys([*(was.about if was else ()), *(now.about if now else ())])
    reasons = [reason for tag in tags if tag in by_tag for reason in by_tag[tag].values()]
    if None in reasons:
        return []
    known = [reason for reason in reasons if reason is not None]
    if figure.startswith("rank~"):
        for tag in tags:
            known += _company(tag, old, new)
    return known


def _company(tag: str, old: Record, new: Record) -> list[str]:
    """Which other devices in a ranking joined, left or have another value."""
    if not tag.startswith("ranking:"):
        return []
    before, after = (
        {f: p.text for f, p in r.figures.items() if f[:7] == "window~" and tag in p.about} for r in (old, new)
    )
    changed: list[str] = []
    for figure in sorted(before.keys() | after.keys()):
        device = figure.split("~")[1]
        if figure not in before:
            changed.append(f"{device} joined the ranking")
        elif figure not in after:
            changed.append(f"{device} left the ranking")
        elif before[figure] != after[figure]:
            changed.append(f"the value of {device} changed")
    return changed


def _prepared(why: Mapping[str, str | None]) -> list[str]:
    """Which pairs are prepared follows from all values, so any explained change may add or remove one."""
    if hidden := [reason for reason in why.values() if isinstance(reason, HiddenAgain)]:
        return [*hidden[:1]]
    reasons = sorted({reason for reason in why.values() if reason is not None})
    return [f"which pairs are prepared follows from {reason}" for reason in reasons[:1]]

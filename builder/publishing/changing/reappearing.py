"""What a version of a site shows that the catalogue hides or has withdrawn since: why it may not come back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from sqlite_utils import Database

from builder import wording
from builder.publishing.changing.acts import published_copy
from builder.publishing.changing.causes import fact_words
from builder.publishing.checking.leaks import leaks
from builder.publishing.checking.secrets_sought import Sought
from catalog import queries
from catalog.queries import Fact
from catalog.records import Withdrawal
from catalog.visibility.fates import Fate, Fates

# What a withdrawal names whose page stays -> the table of its facts. Of all else the rows themselves are gone.
_STAYING = {"device": "device", "unit": "unit", "firmware": "firmware", "client": "client", "session": "session"}


def reappearing(site: Path, copy: Database, fates: Fates, secret: Sought) -> list[str]:
    """What the site in a folder shows that may not be seen now, in sentences; empty where it may come back.

    copy    the public copy of the catalogue now, with the *fates* of its rows
    secret  what may not be public now
    Raises  BuildRefused: the folder's data cannot be read.
    """
    with published_copy(site) as old:
        was, now = queries.facts(old), queries.facts(copy)
        reasons = list(_of_rows(was, now, fates))
        reasons += _of_notes(old, copy, was)
    reasons += [f"{leak.file} holds {leak.kind}: {leak.text}" for leak in leaks(site / "data", secret)]
    return list(dict.fromkeys(reasons))


def _of_rows(was: dict[str, Fact], now: dict[str, Fact], fates: Fates) -> Iterator[str]:
    """Rows that went: each by itself, many of one kind together."""
    why = {key: _why(_fate(key, fact, fates)) for key, fact in was.items() if key not in now and fact.table != "method"}
    several = Counter((was[key].table, was[key].device, reason) for key, reason in why.items())
    for key, reason in why.items():
        fact = was[key]
        number = several[fact.table, fact.device, reason]
        if not reason:
            continue
        if number == 1:
            yield f"{wording.capital(fact_words(key))}: {reason}."
        else:
            of = f" of {fact.device}" if fact.device else ""
            yield f"{number} rows of {fact.table.replace('_', ' ')}{of}: {reason}."


def _fate(key: str, fact: Fact, fates: Fates) -> Fate | None:
    here = key if key in fates.rows else fates.at(fact.table, fact.origin) if fact.origin else None
    return fates.rows[here] if here is not None else None


def _why(fate: Fate | None) -> str:
    """Why a row may not be seen now; "" for one that was corrected, whose old value may be shown again."""
    if fate is None:
        return "not in the catalogue"
    if fate.left_out == "withdrawn":
        return (
            wording.listing([f"withdrawn from {w.from_date}, {w.reason}" for w in fate.withdrawals], "and")
            or "withdrawn"
        )
    return "hidden now" if fate.left_out else ""


def _of_notes(old: Database, copy: Database, was: dict[str, Fact]) -> Iterator[str]:
    """Withdrawals that the older site does not mention, of things it has a page for; and articles with their text."""
    withdrawn = {(w.what, w.id) for w in queries.withdrawals(old)}
    texts = {article.article_id: article.text for article in queries.articles(old)}
    things = {
        (what, _id(fact, what)) for fact in was.values() for what, table in _STAYING.items() if fact.table == table
    }
    for w in queries.withdrawals(copy):
        if (w.what, w.id) not in withdrawn and ((w.what, w.id) in things or (w.what == "article" and texts.get(w.id))):
            yield _withdrawn(w)


def _id(fact: Fact, what: str) -> str:
    if what == "unit":
        return f"{fact.device}/{fact.unit}"
    if what == "firmware":
        return f"{fact.device}@{fact.firmware}"
    return fact.about[0].partition(":")[2] if what in ("client", "session") else str(fact.device)


def _withdrawn(w: Withdrawal) -> str:
    return f"{wording.capital(w.what)} {w.id}: withdrawn from {w.from_date}, {w.reason}."

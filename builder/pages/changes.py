"""What is new: every change to the site, newest first, with its day and its cause."""

from __future__ import annotations

from collections import Counter

from builder import addresses, wording
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.news import KINDS, Item, news
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import date_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.role_words import KIND_WORDS, marks_text
from builder.pages.parts.sectioned import SectionedPage
from builder.under_load.role_names import role_name
from catalog.records import Role

EACH = {
    "New": ("new device", "new devices"),
    "Retest": ("retest", "retests"),
    "Correction": ("correction", "corrections"),
    "Withdrawn": ("withdrawal", "withdrawals"),
    "Embargo ended": ("embargo that ended", "embargoes that ended"),
    "Dispute": ("step of a dispute", "steps of disputes"),
}


def changes_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """The page of changes."""
    here = addresses.CHANGES
    items = news(catalogue, results)
    sections = [
        Section(
            "all",
            "When, what, and why?",
            () if items else ("Nothing yet.",),
            tables=(_table(here, items),) if items else (),
            links=(
                Link("Feed, Atom", addresses.link(here, addresses.ATOM_FEED), "for a reader of feeds"),
                Link("Feed, JSON", addresses.link(here, addresses.JSON_FEED), "the same"),
            ),
        )
    ]
    if len(catalogue.methods) > 1:
        sections.append(
            Section(
                "constants",
                "Did the rules change?",
                (
                    f"The bench declared constants {wording.count(len(catalogue.methods) - 1, 'time')} after the first "
                    "set; figures follow the set in force.",
                ),
                links=(Link("All sets", addresses.link(here, addresses.METHOD, "versions"), "with what they declare"),),
            )
        )
    if remarked := _remarked(catalogue):
        sections.append(
            Section(
                "marks",
                "Did what is asked of a role change?",
                (
                    "Marks are held against every log of a role, old ones too, so verdicts from before may be others now.",
                ),
                tables=(_marks_table(catalogue, remarked),),
            )
        )
    return SectionedPage(
        address=here,
        title="What is new",
        question="What is new, and why?",
        verdict=_verdict(items),
        intro=(
            "A new device or a retest also moves ranks and verdicts in the tables it joins; no value of another device "
            "changes by it.",
        ),
        sections=tuple(sections),
        cannot_say=("Which single figures differ from an earlier build: whoever publishes sees that list.",),
        provenance=provenance(catalogue, results, site, here, days=(item.when for item in items)),
    )


def _remarked(catalogue: Catalogue) -> list[Role]:
    """Roles whose marks were set by another batch than the one that defined them, each once."""
    roles = {role.definition: role for plan in catalogue.workloads.values() for role in plan.roles}
    return [role for _, role in sorted(roles.items()) if role.marks_by not in (None, role.brought_by)]


def _marks_table(catalogue: Catalogue, roles: list[Role]) -> Table:
    columns: list[Column[Role]] = [
        Column("Role", lambda role: Entry(text=wording.capital(role_name(role)), note=KIND_WORDS[role.kind])),
        Column("Asked now", lambda role: text_entry(marks_text(role), missing="nothing"), sentence=True),
        Column(
            "Set by the batch", lambda role: Entry(text=catalogue.batches[role.marks_by or ""].title), sentence=True
        ),
    ]
    return table_of(roles, columns, key="remarked", caption="Roles whose marks were set anew")


def _verdict(items: list[Item]) -> str:
    tally = Counter(item.kind for item in items)
    parts = [wording.count(tally[kind], *EACH[kind]) for kind in KINDS if tally[kind]]
    return f"{wording.capital(wording.listing(parts))}, newest first." if parts else "Nothing has changed yet."


def _table(here: str, items: list[Item]) -> Table:
    columns: list[Column[Item]] = [
        Column("What", lambda i: Entry(text=i.what, href=addresses.link(here, i.address, i.fragment)), sentence=True),
        Column("Kind", lambda i: Entry(text=i.kind)),
        Column("Day", lambda i: date_entry(i.when)),
        Column(
            "What came out", lambda i: text_entry(wording.capital(i.result), missing="see the reason"), sentence=True
        ),
        Column("Because", lambda i: Entry(text=i.cause), sentence=True),
    ]
    return table_of(items, columns, key="changes", caption="Changes, newest first")

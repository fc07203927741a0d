"""Bench days: session factors of the reference device, and what was decided about odd days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from builder import wording
from builder.bench.cells import Cell
from builder.bench.sessions import SUSPENDED_OUTSIDE, Normalised, SessionFactor, normalised_cells
from builder.bench.summed_up import why_no_interval
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, date_entry, decibel_entry, rate_entry

MOST_DAYS = 60  # of a house's ordinary days; odd ones are all shown
_OUTSIDE = wording.between(*SUSPENDED_OUTSIDE, 2)


def day_place(results: Results, house_id: str) -> str:
    """The fragment of the days on a house's page; "" for a house without a reference device, which has no such section."""
    return "" if results.bench.houses[house_id].reference_device is None else "days"


def day_section(catalogue: Catalogue, results: Results, house_id: str) -> Section | None:
    """The sessions of a house that its reference device can judge; None for a house without a reference device."""
    key, heading = day_place(results, house_id), "What kind of day was it?"
    if not key:
        return None
    factors = [f for f in results.factors.values() if f.house == house_id]
    if not factors:
        none = "No day of the reference device can be held against two other days here, so nothing is normalised."
        return Section(key, heading, (none,))
    odd = [f for f in factors if _is_odd(f)]
    sentences = [
        "The session factor is what the reference device gave on a day, divided by what it gave at the same places on all "
        "the others. Results are shown as they were measured; divided by the factor they stand on the pages of devices, "
        f"too. A day outside {_OUTSIDE} is suspended: its results are shown, and not normalised until someone decides.",
    ]
    if not odd:
        sentences.append(f"No day here was outside {_OUTSIDE}.")
    odd_tables = (_odd_table(catalogue, results, odd),) if odd else ()
    return Section(key, heading, tuple(sentences), tables=(*odd_tables, _day_table(catalogue, factors)))


def normalised_section(results: Results, device_id: str) -> Section | None:
    """Every value of a device beside what it would have been on an average day; None where no day can be judged."""
    cells = normalised_cells(results.bench, results.factors, device_id)
    judged = [(cell, normalised) for cell, normalised in cells if normalised.factor is not None]
    if not judged:
        return None
    columns: list[Column[tuple[Cell, Normalised]]] = [
        Column("Place", lambda row: place_entry(row[0])),
        Column("Group", lambda row: Entry(text=results.names[row[0].group].text), sentence=True),
        Column("Attenuation", lambda row: decibel_entry(row[0].attenuation_db, unit="dB"), numeric=True),
        Column("As measured", lambda row: rate_entry(row[0].mean, bound=row[0].bound), numeric=True),
        Column("Session factor", lambda row: _factor_entry(row[1].factor), numeric=True),
        Column("Normalised", lambda row: _normalised_entry(*row), numeric=True),
        Column("Day", lambda row: date_entry(row[0].date)),
    ]
    table = table_of(
        judged,
        columns,
        key="normalised-values",
        caption="Mbit/s as measured, and divided by the session factor of the day with its 95 % interval, into which the "
        "reference device’s own uncertainty goes. Comparisons and rankings use what was measured.",
    )
    heading = f"As on an average day: {wording.count(len(judged), 'place')}"
    return Section("normalised", heading, tables=(table,))


def place_entry(cell: Cell) -> Entry:
    """Where a cell was measured: its spot; else whether its attenuation was typed or only its level read."""
    return Entry(text=cell.spot or ("typed" if cell.attenuation_db is not None else "level only"))


def odd_day_note(factor: SessionFactor | None) -> str:
    """The remark beside a result of an odd day; "" on an ordinary one."""
    if factor is None or not _is_odd(factor):
        return ""
    return f"an odd day: the reference gave {wording.ratio(factor.factor)} of its usual; {factor.state}"


def _is_odd(factor: SessionFactor) -> bool:
    return factor.odd or factor.state == "set aside"


def _odd_table(catalogue: Catalogue, results: Results, factors: Sequence[SessionFactor]) -> Table:
    columns: list[Column[SessionFactor]] = [
        Column("Session", lambda f: Entry(text=f.session)),
        Column("Day", lambda f: date_entry(catalogue.sessions[f.session].date)),
        Column("Group", lambda f: Entry(text=results.names[f.group].text), sentence=True),
        Column("Session factor", _factor_entry, numeric=True),
        Column("Other days", lambda f: count_entry(f.sessions), numeric=True),
        Column("State", lambda f: Entry(text=_state_words(f)), sentence=True),
    ]
    return table_of(
        factors,
        columns,
        key="odd-days",
        caption=f"Days outside {_OUTSIDE}, or set aside, and what became of them",
        row_key=lambda f: f.figure,
    )


def _day_table(catalogue: Catalogue, factors: Sequence[SessionFactor]) -> Table:
    by_session: dict[str, list[SessionFactor]] = defaultdict(list)
    for factor in factors:
        by_session[factor.session].append(factor)
    newest = sorted(by_session, key=lambda s: (catalogue.sessions[s].date, s), reverse=True)
    shown = newest[:MOST_DAYS]
    left = f" The latest {len(shown)} of {len(newest)}." if len(newest) > len(shown) else ""
    columns: list[Column[str]] = [
        Column("Session", lambda session: Entry(text=session)),
        Column("Day", lambda session: date_entry(catalogue.sessions[session].date)),
        Column("Session factor", lambda session: _span_entry(by_session[session]), numeric=True),
        Column("Groups", lambda session: count_entry(len(by_session[session])), numeric=True),
        Column(
            "State",
            lambda session: Entry(text=wording.listing(list(dict.fromkeys(f.state for f in by_session[session])))),
        ),
    ]
    return table_of(
        shown,
        columns,
        key="session-factors",
        caption=f"What the reference device gave of its long-run mean, from the least to the greatest group.{left}",
    )


def _span_entry(factors: Sequence[SessionFactor]) -> Entry:
    """The range of a day's factors."""
    least, most = min(f.factor for f in factors), max(f.factor for f in factors)
    texts = dict.fromkeys((wording.ratio(least), wording.ratio(most)))
    return Entry(text=" to ".join(texts), sort_key=repr(least))


def _state_words(factor: SessionFactor) -> str:
    if factor.decision is not None:
        return f"{factor.decision.sentence}."
    return "Suspended until someone decides."


def _factor_entry(factor: SessionFactor | None) -> Entry:
    if factor is None:
        return Entry(why_missing="none")
    interval = "" if factor.interval is None else wording.in_95(wording.between(*factor.interval, 3))
    return Entry(text=wording.ratio(factor.factor), interval=interval, sort_key=repr(factor.factor))


def _normalised_entry(cell: Cell, normalised: Normalised) -> Entry:
    value, half = normalised.value, normalised.half_width
    if value is None:
        return Entry(why_missing=normalised.factor.state if normalised.factor else "none")
    low, high = (None, None) if half is None else (value - half, value + half)
    entry = rate_entry(value, low=low, high=high, bound=normalised.bound)
    return entry if half is not None or normalised.bound else replace(entry, note=why_no_interval([cell]))

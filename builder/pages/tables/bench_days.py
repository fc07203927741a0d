"""What kind of day a session was: factors of the reference device, and what became of the odd days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from builder import wording
from builder.bench.sessions import SUSPENDED_OUTSIDE, Normalised, SessionFactor, normalised_cells
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Heading, Row, Section, Table
from builder.pages.parts.entries import date_entry, decibel_entry, rate_entry

MOST_DAYS = 60  # of a house's ordinary days; odd ones are all shown
_OUTSIDE = wording.between(*SUSPENDED_OUTSIDE, 2)


def day_place(results: Results, house_id: str) -> str:
    """The fragment of a house's section of days on its page; "" for a house without a reference device, which has none."""
    return "" if results.bench.houses[house_id].reference_device is None else "days"


def day_section(catalogue: Catalogue, results: Results, house_id: str) -> Section | None:
    """The sessions of a house that its reference device can judge; None for a house without a reference device."""
    key, heading = day_place(results, house_id), "What kind of day was it?"
    if not key:
        return None
    own = [f for f in results.factors.values() if f.house == house_id]
    if not own:
        none = "No day of the reference device can be held against two other days here, so nothing is normalised."
        return Section(key, heading, (none,))
    told = [f for f in own if f.odd or f.state == "set aside"]
    sentences = [
        "The session factor is what the reference device gave on a day, divided by what it gave at the same places on all "
        "the others. Results are shown as they were measured; divided by the factor they stand on the pages of devices, "
        f"too. A day outside {_OUTSIDE} is suspended: its results are shown, and not normalised until someone decides.",
    ]
    if not told:
        sentences.append(f"No day here was outside {_OUTSIDE}.")
    odd = (_odd_table(catalogue, results, told),) if told else ()
    return Section(key, heading, tuple(sentences), tables=(*odd, _day_table(catalogue, own)))


def normalised_section(results: Results, device_id: str) -> Section | None:
    """Every value of a device beside what it would have been on an average day; None where no day can be judged."""
    found = [(c, n) for c, n in normalised_cells(results.bench, results.factors, device_id) if n.factor is not None]
    if not found:
        return None
    rows = tuple(
        Row(
            Entry(text=cell.spot or ("typed" if cell.attenuation_db is not None else "level only")),
            (
                Entry(text=results.names[cell.group].text),
                decibel_entry(cell.attenuation_db, unit="dB"),
                rate_entry(cell.mean, bound=cell.bound),
                _factor_entry(one.factor),
                _normalised_entry(one),
                date_entry(cell.date),
            ),
        )
        for cell, one in found
    )
    table = Table(
        key="normalised-values",
        caption="Mbit/s as measured, and divided by the session factor of the day with its 95 % interval, into which the "
        "reference device’s own uncertainty goes. Comparisons and rankings use what was measured.",
        columns=(
            Heading("Place"),
            Heading("Group", sentence=True),
            Heading("Attenuation", numeric=True),
            Heading("As measured", numeric=True),
            Heading("Session factor", numeric=True),
            Heading("Normalised", numeric=True),
            Heading("Day"),
        ),
        rows=rows,
    )
    heading = f"On an average day of the house: {wording.count(len(rows), 'normalised place')}"
    return Section("normalised", heading, tables=(table,))


def odd_day_note(factor: SessionFactor | None) -> str:
    """What stands beside a result of an odd day; "" for an ordinary one."""
    if factor is None or (not factor.odd and factor.state != "set aside"):
        return ""
    return f"an odd day: the reference gave {wording.ratio(factor.factor)} of its usual; {factor.state}"


def _odd_table(catalogue: Catalogue, results: Results, found: Sequence[SessionFactor]) -> Table:
    return Table(
        key="odd-days",
        caption=f"Days outside {_OUTSIDE}, or set aside, and what became of them",
        columns=(
            Heading("Session"),
            Heading("Day"),
            Heading("Group", sentence=True),
            Heading("Session factor", numeric=True),
            Heading("Other days", numeric=True),
            Heading("State", sentence=True),
        ),
        rows=tuple(
            Row(
                Entry(text=f.session),
                (
                    date_entry(catalogue.sessions[f.session].date),
                    Entry(text=results.names[f.group].text),
                    _factor_entry(f),
                    Entry(text=str(f.sessions), sort_key=str(f.sessions)),
                    Entry(text=_state_words(f)),
                ),
                key=f.figure,
            )
            for f in found
        ),
    )


def _day_table(catalogue: Catalogue, found: Sequence[SessionFactor]) -> Table:
    by_session: dict[str, list[SessionFactor]] = defaultdict(list)
    for factor in found:
        by_session[factor.session].append(factor)
    newest = sorted(by_session, key=lambda s: (catalogue.sessions[s].date, s), reverse=True)
    shown = newest[:MOST_DAYS]
    left = f" The latest {len(shown)} of {len(newest)}." if len(newest) > len(shown) else ""
    return Table(
        key="session-factors",
        caption=f"What the reference device gave of its long-run mean, from the least to the greatest group.{left}",
        columns=(
            Heading("Session"),
            Heading("Day"),
            Heading("Session factor", numeric=True),
            Heading("Groups", numeric=True),
            Heading("State"),
        ),
        rows=tuple(_day_row(catalogue, session, by_session[session]) for session in shown),
    )


def _day_row(catalogue: Catalogue, session_id: str, own: Sequence[SessionFactor]) -> Row:
    session = catalogue.sessions[session_id]
    least, most = min(f.factor for f in own), max(f.factor for f in own)
    texts = dict.fromkeys((wording.ratio(least), wording.ratio(most)))
    states = dict.fromkeys(f.state for f in own)
    return Row(
        Entry(text=session_id),
        (
            date_entry(session.date),
            Entry(text=" to ".join(texts), sort_key=repr(least)),
            Entry(text=str(len(own)), sort_key=str(len(own))),
            Entry(text=wording.listing(list(states))),
        ),
    )


def _state_words(found: SessionFactor) -> str:
    if found.decision is not None:
        return f"{found.decision.sentence}."
    return "Suspended until someone decides."


def _factor_entry(found: SessionFactor | None) -> Entry:
    if found is None:
        return Entry(why_missing="none")
    interval = "" if found.interval is None else wording.between(*found.interval, 3)
    return Entry(text=wording.ratio(found.factor), interval=interval, sort_key=repr(found.factor))


def _normalised_entry(found: Normalised) -> Entry:
    if found.value is None:
        return Entry(why_missing=found.factor.state if found.factor else "none")
    half = found.half_width
    low, high = (None, None) if half is None else (found.value - half, found.value + half)
    entry = rate_entry(found.value, low=low, high=high, bound=found.bound)
    missing = "" if half is not None or found.bound else "single run"
    return Entry(text=entry.text, interval=entry.interval, sort_key=entry.sort_key, note=missing)

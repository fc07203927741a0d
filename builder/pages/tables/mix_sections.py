"""What two devices did with several clients at once, set beside each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, number_entry
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.mix_rows import link_words, place_words
from builder.pages.parts.played_roles import section_of, versions_of
from builder.under_load.mix_comparisons import MixComparison, RoleComparison
from catalog.records import Station


def busy_section(catalogue: Catalogue, results: Results, here: str, a: str, b: str) -> Section | None:
    """The runs with several clients at once that both devices did: what they came to, how alike they were, and role by role.

    None where they share no workload.
    """
    compared = results.mix_comparisons(a, b)
    if not compared:
        return None
    alike = [one for one in compared if one.kind != "company-differs"]
    unlike = [one for one in compared if one.kind == "company-differs"]
    return Section(
        "busy",
        "Which holds when all are busy?",
        (_answer(catalogue, results, compared), *dict.fromkeys(one.note for one in alike if one.note)),
        tables=(
            _runs_table(catalogue, results, (*alike, *unlike)),
            *(_table(catalogue, results, one, number) for number, one in enumerate(alike)),
        ),
        links=tuple(
            Link(
                versions_of(catalogue, one.workload)[0].title,
                addresses.link(here, addresses.workload(one.workload), section_of(results.mix_places[one.mixes[0][0]])),
                "every device that did it",
            )
            for one in _one_each(compared)
        ),
    )


def _one_each(compared: Sequence[MixComparison]) -> list[MixComparison]:
    """The first comparison of each workload."""
    return list({one.workload: one for one in reversed(compared)}.values())[::-1]


def _title(catalogue: Catalogue, comparison: MixComparison) -> str:
    return versions_of(catalogue, comparison.workload)[0].title


def _answer(catalogue: Catalogue, results: Results, compared: Sequence[MixComparison]) -> str:
    """On which device more came in time in which workloads, in how many no difference is shown, and how many are unlike."""
    by_workload: dict[str, list[MixComparison]] = defaultdict(list)
    for one in compared:
        by_workload[one.workload].append(one)
    ahead: dict[tuple[str, ...], list[str]] = defaultdict(list)
    alike = unlike = 0
    for several in by_workload.values():
        if leading := list(dict.fromkeys(device for one in several for device in one.leading)):
            ahead[tuple(sorted(leading))].append(f"“{_title(catalogue, several[0])}”")
        elif any(one.judged for one in several):
            alike += 1
        else:
            unlike += 1
    parts = [_ahead(results, leading, titles) for leading, titles in ahead.items()]
    total = len(by_workload)
    whole = f"{wording.in_words(total)} workloads that both did"
    if alike:
        parts.append(
            f"no difference is shown in {'any of the ' + whole if alike == total > 1 else _so_many(alike, total)}"
        )
    if unlike:
        none = unlike == total > 1
        some = wording.in_words(unlike) if parts else _so_many(unlike, total)
        words = f"none of the {whole} was" if none else f"{some} {'was' if unlike == 1 else 'were'} not"
        parts.append(f"{words} comparable")
    return f"{wording.capital('; '.join(parts))}."


def _ahead(results: Results, leading: Sequence[str], titles: Sequence[str]) -> str:
    if len(leading) > 1:
        return f"in {wording.listing(titles)} each device is ahead in some roles"
    return f"more came in time on {device_name(results.bench, leading[0])} in {wording.listing(titles)}"


def _so_many(number: int, total: int) -> str:
    """ "four of the five workloads that both did"."""
    if total == 1:
        return "the one workload that both did"
    return f"{wording.in_words(number)} of the {wording.in_words(total)} workloads that both did"


def _runs_table(catalogue: Catalogue, results: Results, compared: Sequence[MixComparison]) -> Table:
    """Each workload: how often each device did it, with which firmware where another is current, and how alike."""
    columns: list[Column[MixComparison]] = [
        Column("Workload", lambda one: Entry(text=_title(catalogue, one))),
        *(_runs_column(results, side, subject.device) for side, subject in enumerate(compared[0].subjects)),
        Column("How alike", lambda one: Entry(text=one.sentence), sentence=True),
    ]
    return table_of(compared, columns, key="busy-runs", caption="The workloads that both did")


def _runs_column(results: Results, side: int, device: str) -> Column[MixComparison]:
    return Column(
        f"Runs of {device_name(results.bench, device)}",
        lambda one: count_entry(len(one.mixes[side]), note=_firmware(results, device, one.subjects[side].firmware)),
        numeric=True,
    )


def _firmware(results: Results, device: str, firmware: str) -> str:
    mark = older_mark(results, device, firmware)
    return f"with {firmware} ({mark})" if mark else ""


def _table(catalogue: Catalogue, results: Results, comparison: MixComparison, number: int) -> Table:
    names = [device_name(results.bench, side.device) for side in comparison.subjects]
    columns: list[Column[RoleComparison]] = [
        Column("Role", lambda r: Entry(text=wording.capital(r.name))),
        Column(f"{names[0]}, in time", lambda r: _share(r.shares[0], r.good[0]), numeric=True),
        Column(f"{names[1]}, in time", lambda r: _share(r.shares[1], r.good[1]), numeric=True),
        Column("What these runs say", lambda r: Entry(text=r.sentence), sentence=True),
        Column(
            "Machine and place on each",
            lambda r: Entry(text="; ".join(_place(results, station) for station in r.stations)),
            sentence=True,
        ),
    ]
    return table_of(
        comparison.roles,
        columns,
        key=f"busy-{number + 1}",
        caption=f"{_title(catalogue, comparison)}, role by role. Each role is judged by itself.",
    )


def _place(results: Results, station: Station) -> str:
    """ "Wrenlet U2 at S4, 74.1 dB, −61 dBm, 5 GHz, 80 MHz", with what is known."""
    level = "" if station.level_dbm is None else f"{wording.decibels(station.level_dbm)} dBm"
    known = filter(None, (place_words(station), level, link_words(station)))
    return f"{results.bench.clients[station.client].name} at {', '.join(known)}"


def _share(share: float | None, good: float | None) -> Entry:
    entry = number_entry(share, wording.percent, missing="no log of requests")
    return entry if good is None else replace(entry, note=f"{wording.percent(good)} good")

"""What two devices did with several clients at once, set beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import number_entry
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.mix_rows import link_words, place_words
from builder.pages.parts.played_roles import section_of, versions_of
from builder.under_load.mix_comparisons import MixComparison, RoleComparison
from catalog.records import Station


def busy_section(catalogue: Catalogue, results: Results, here: str, a: str, b: str) -> Section | None:
    """The runs with several clients at once that both devices did alike, role by role; None where they share no workload.

    Where they did a workload differently, one sentence says how.
    """
    compared = results.mix_comparisons(a, b)
    if not compared:
        return None
    alike = [one for one in compared if one.kind != "company-differs"]
    unlike = [one for one in compared if one.kind == "company-differs"]
    return Section(
        "busy",
        "Which holds when all are busy?",
        tuple(_sentence(catalogue, results, one) for one in (*alike, *unlike)),
        tables=tuple(_table(catalogue, results, one, number) for number, one in enumerate(alike)),
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


def _sentence(catalogue: Catalogue, results: Results, comparison: MixComparison) -> str:
    """The workload, how alike it was done, how often, and with which firmware where another is current."""
    runs = [wording.count(len(mixes), "run") for mixes in comparison.mixes]
    sides = [
        f"{count} of {device_name(results.bench, side.device)}{_firmware(results, side.device, side.firmware)}"
        for count, side in zip(runs, comparison.subjects, strict=True)
    ]
    text = f"{_title(catalogue, comparison)}: {wording.listing(sides)}. {comparison.sentence}"
    return f"{text} {comparison.note}".rstrip()


def _firmware(results: Results, device: str, firmware: str) -> str:
    mark = older_mark(results, device, firmware)
    return f" with {firmware} ({mark})" if mark else ""


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

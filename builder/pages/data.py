"""The data page: may I have the data? Downloads with checksums, the meaning of their columns, and the licence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar
from urllib.parse import urljoin

from builder import addresses, wording
from builder.pages.contents import DEFAULT_LICENCE, Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Page, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import link_entry, text_entry
from builder.pages.parts.heads import url
from builder.pages.parts.newest import days_tested
from builder.pages.parts.provenance import provenance

CHECKSUMS = "SHA256SUMS"
VERDICT = "Yes, all that these pages are made of: as text for a spreadsheet, as JSON, and as one SQLite file."
_MEDIA_TYPES = {
    "csv": "text/csv",
    "json": "application/json",
    "db": "application/vnd.sqlite3",
    "zip": "application/zip",
}


@dataclass(frozen=True, slots=True)
class Download:
    """One file to download. *size* and *sha256* are those of its bytes."""

    name: str
    what: str
    size: str
    sha256: str


@dataclass(frozen=True, slots=True)
class ColumnMeaning:
    """One column of the public database."""

    name: str
    kind: str
    meaning: str


@dataclass(frozen=True, kw_only=True)
class DataPage(Page):
    """Downloads, batches and the dictionary."""

    template: ClassVar[str] = "data"
    grows: ClassVar[bool] = True

    licence: str
    checksums_href: str
    downloads: Table
    batches: Table
    dictionary: tuple[Table, ...]


def data_page(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    downloads: Sequence[Download],
    dictionary: Mapping[str, tuple[str, Sequence[ColumnMeaning]]],
) -> DataPage:
    """The data page.

    dictionary  table -> what one row is, and its columns
    """
    here = addresses.DATA
    return DataPage(
        address=here,
        title="Download the data",
        question="In which form, and may I use it?",
        verdict=VERDICT,
        cannot_say=(
            "What is not public yet: the files hold what could be seen at the build instant, and nothing else.",
            "The raw samples of logs: they stay in the bench's own catalogue; their digests are in the SQLite file.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_tested(results, results.bench.devices)),
        about=_dataset(catalogue, results, site, here, downloads),
        licence=site.licence or DEFAULT_LICENCE,
        checksums_href=addresses.link(here, addresses.download(CHECKSUMS)),
        downloads=table_of(
            downloads,
            (
                Column("File", lambda d: link_entry(here, d.name, addresses.download(d.name))),
                Column("What it holds", lambda d: Entry(text=d.what), sentence=True),
                Column("Size", lambda d: Entry(text=d.size), numeric=True),
                Column("SHA-256", lambda d: Entry(text=d.sha256), sentence=True),
            ),
            key="downloads",
            caption="Files. A cell that begins with = + - or @ and is no number has a ' in front, so that a "
            "spreadsheet does not run it",
        ),
        batches=table_of(
            catalogue.batches.values(),
            (
                Column("Batch", lambda batch: Entry(text=batch.batch_id)),
                Column("Title", lambda batch: Entry(text=batch.title)),
                Column("Licence", lambda batch: Entry(text=batch.licence)),
            ),
            key="batches",
            caption="Batches the pages rest on",
        ),
        dictionary=tuple(
            table_of(
                columns,
                (
                    Column("Column", lambda column: Entry(text=column.name)),
                    Column("Kind", lambda column: Entry(text=column.kind)),
                    Column("Meaning", lambda column: text_entry(column.meaning, missing="as named"), sentence=True),
                ),
                key=f"table-{name}",
                caption=what or f"One row of {name}",
            )
            for name, (what, columns) in dictionary.items()
        ),
    )


def _dataset(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, downloads: Sequence[Download]
) -> dict[str, Any]:
    """The downloads as Schema.org has them."""
    days = sorted({cell.date for cells in results.bench.cells_of.values() for cell in cells})
    return {
        "@type": "Dataset",
        "name": f"Results of {site.title}",
        "description": _description(catalogue, results, site, days),
        "license": f"https://spdx.org/licenses/{site.licence or DEFAULT_LICENCE}.html",
        "creator": {"@type": "Organization", "name": site.author or site.title},
        "isAccessibleForFree": True,
        "keywords": ["Wi-Fi", "access points", "throughput", "attenuation", "latency"],
        **({"temporalCoverage": f"{days[0]}/{days[-1]}"} if days else {}),
        "variableMeasured": [
            {"@type": "PropertyValue", "name": name, "unitText": unit}
            for name, unit in (("throughput", "Mbit/s"), ("attenuation", "dB"), ("received level", "dBm"))
        ],
        "distribution": [
            {
                "@type": "DataDownload",
                "name": d.name,
                "description": d.what,
                "contentSize": d.size,
                "sha256": d.sha256,
                "encodingFormat": _MEDIA_TYPES.get(d.name.rpartition(".")[2], "text/plain"),
                "contentUrl": urljoin(site.address, addresses.download(d.name))
                if site.address
                else addresses.link(here, addresses.download(d.name)),
            }
            for d in downloads
        ],
    } | url(site, here)


def _description(catalogue: Catalogue, results: Results, site: SiteContext, days: Sequence[str]) -> str:
    """What is in the files, of what, how much of it and from when."""
    bench = results.bench
    span = f", {wording.date_range(days[0], days[-1])}" if days else ""
    of = f"{wording.count(len(bench.devices), 'Wi-Fi access point')} with {wording.count(len(bench.clients), 'client setup')}"
    return (
        f"Measurements of {site.title} on {of} in {wording.count(len(bench.houses), 'house')}: "
        f"{wording.count(len(catalogue.runs), 'run')} of throughput by attenuation and received level, each with its unit, "
        f"firmware, band, channel width, direction and outcome{span}; beside them runs with several clients at once, power, "
        "surface temperatures, prices, features and parts. As CSV, JSON and SQLite, with the meaning of every column."
    )

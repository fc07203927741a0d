"""The data page: may I have it? Downloads with checksums, what their columns mean, and the licence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar
from urllib.parse import urljoin

from builder import addresses
from builder.pages.contents import DEFAULT_LICENCE, Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Heading, Page, Row, Table
from builder.pages.parts.heads import url
from builder.pages.parts.provenance import provenance

CHECKSUMS = "SHA256SUMS"
VERDICT = "Yes, all that these pages are made of: as text for a spreadsheet, as JSON, and as one SQLite file."
_MEDIA_TYPES = {"csv": "text/csv", "json": "application/json", "db": "application/vnd.sqlite3"}


@dataclass(frozen=True, slots=True)
class Download:
    """One file to take away. *size* and *sha256* are those of its bytes."""

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
        title="Data",
        question="May I have the data?",
        verdict=VERDICT,
        cannot_say=(
            "What is not public yet: the files hold what could be seen at the build instant, and nothing else.",
            "The raw samples of logs: they stay in the bench's own catalogue; their digests are in the SQLite file.",
        ),
        provenance=provenance(catalogue, results, site, here),
        about=_dataset(site, here, downloads),
        licence=site.licence or DEFAULT_LICENCE,
        checksums_href=addresses.link(here, addresses.download(CHECKSUMS)),
        downloads=Table(
            key="downloads",
            caption="Files. A cell that begins with = + - or @ and is no number has a ' in front, so that a "
            "spreadsheet does not run it",
            columns=(
                Heading("File"),
                Heading("What it holds", sentence=True),
                Heading("Size", numeric=True),
                Heading("SHA-256", sentence=True),
            ),
            rows=tuple(
                Row(
                    Entry(text=d.name, href=addresses.link(here, addresses.download(d.name))),
                    (Entry(text=d.what), Entry(text=d.size), Entry(text=d.sha256)),
                )
                for d in downloads
            ),
        ),
        batches=Table(
            key="batches",
            caption="Batches the pages rest on",
            columns=(Heading("Batch"), Heading("Title"), Heading("Licence")),
            rows=tuple(
                Row(Entry(text=b.batch_id), (Entry(text=b.title), Entry(text=b.licence)))
                for b in catalogue.batches.values()
            ),
        ),
        dictionary=tuple(
            Table(
                key=f"table-{name}",
                caption=what or f"One row of {name}",
                columns=(Heading("Column"), Heading("Kind"), Heading("Meaning", sentence=True)),
                rows=tuple(
                    Row(
                        Entry(text=c.name),
                        (Entry(text=c.kind), Entry(text=c.meaning) if c.meaning else Entry(why_missing="as named")),
                    )
                    for c in columns
                ),
            )
            for name, (what, columns) in dictionary.items()
        ),
    )


def _dataset(site: SiteContext, here: str, downloads: Sequence[Download]) -> dict[str, Any]:
    """The downloads as Schema.org has them."""
    return {
        "@type": "Dataset",
        "name": f"Results of {site.title}",
        "description": VERDICT,
        "license": f"https://spdx.org/licenses/{site.licence or DEFAULT_LICENCE}.html",
        "creator": {"@type": "Organization", "name": site.author or site.title},
        "isAccessibleForFree": True,
        "variableMeasured": [
            {"@type": "PropertyValue", "name": name, "unitText": unit}
            for name, unit in (("throughput", "Mbit/s"), ("attenuation", "dB"), ("received level", "dBm"))
        ],
        "distribution": [
            {
                "@type": "DataDownload",
                "name": d.name,
                "encodingFormat": _MEDIA_TYPES.get(d.name.rpartition(".")[2], "text/plain"),
                "contentUrl": urljoin(site.address, addresses.download(d.name))
                if site.address
                else addresses.link(here, addresses.download(d.name)),
            }
            for d in downloads
        ],
    } | url(site, here)

"""The page of a review: the text, and beside it who paid and what stands behind each number."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from builder import addresses, wording
from builder.articles.blocks import BlockOrder, Ceilings, Inside, Ports, RoleOver
from builder.articles.bound_article import Bound, BoundArticle, number_key, require_sound
from builder.articles.figures import FigureOrder, line_names
from builder.articles.quotes import Quote
from builder.bench.bench import cells_of_subject
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.insides import inside_section
from builder.pages.pair import pair_links
from builder.pages.parts.blocks import Drawing, Entry, Fact, Link, Page, Table
from builder.pages.parts.chart_notes import reading_note
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.device_card import origin_sentence
from builder.pages.parts.disputing import Disputed, disputed
from builder.pages.parts.drawing import Line, range_drawing, ranking_drawing
from builder.pages.parts.entries import text_entry
from builder.pages.parts.heads import named_product, review
from builder.pages.parts.looked_up import look_up_one
from builder.pages.parts.mix_drawing import mix_drawing, role_drawing
from builder.pages.parts.newest import days_tested
from builder.pages.parts.picturing import Picture, each_once, pictures
from builder.pages.parts.provenance import provenance
from builder.pages.tables.ceiling_table import ceiling_table
from builder.pages.tables.device_register import part_table, port_table
from builder.pages.tables.longrun_sections import longrun_drawing
from builder.pairs.pairing import line_of
from builder.under_load.longruns import LongRunResult
from builder.under_load.mixes import MixResult
from catalog.records import Article


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the text and the chart or table that follows it. The text is sanitised HTML; no other page field is."""

    html: str
    drawing: Drawing | None = None
    table: Table | None = None


@dataclass(frozen=True, kw_only=True)
class ReviewPage(Page):
    """One article.

    numbers   what its numbers are; None where none is bound
    warnings  for its author, never on the page
    """

    template: ClassVar[str] = "review"

    published: str
    text: tuple[Stretch, ...]
    disclosure: tuple[Fact, ...]
    devices: tuple[Link, ...]
    pairs: tuple[Link, ...]
    pictures: tuple[Picture, ...]
    numbers: Table | None
    warnings: tuple[str, ...]

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return tuple(part.drawing for part in self.text if part.drawing)


def article_page(catalogue: Catalogue, results: Results, site: SiteContext, article_id: str) -> ReviewPage:
    """The page of one article. Raises BuildRefused with its problems, if it has any."""
    article = next(a for a in catalogue.articles if a.article_id == article_id)
    bound = look_up_one(catalogue, results, site, article)
    require_sound([bound])
    return review_page(catalogue, results, site, bound)


def review_page(catalogue: Catalogue, results: Results, site: SiteContext, bound: BoundArticle) -> ReviewPage:
    """The page of an article that is published at the build instant."""
    article = bound.article
    here = addresses.review(article.article_id)
    bench = results.bench
    devices = [d for d in article.devices if d in bench.devices]
    shown = {i.sha256 for i in catalogue.images if posixpath.basename(i.path) in article.text}
    others = each_once(i for i in catalogue.images if i.device in devices and i.sha256 not in shown)
    return ReviewPage(
        address=here,
        title=article.title,
        cautions=True,
        question=f"Published {wording.date(article.published_utc)}",
        verdict=f"About {wording.listing([device_name(bench, d) for d in devices])}.",
        provenance=provenance(
            catalogue,
            results,
            site,
            here,
            [c for d in devices for c in bench.cells_of.get(d, ())],
            days=days_tested(results, devices),
        ),
        about=_about(results, site, article, devices),
        preview=addresses.preview_image(article.article_id),
        published=article.published_utc,
        text=tuple(
            Stretch(p.html, *_figure(catalogue, results, site, here, article.article_id, p.figure))
            for p in bound.passages
        ),
        disclosure=tuple(
            Fact(device_name(bench, d), " ".join(origin_sentence(site, u) for u in bench.devices[d].units))
            for d in devices
        ),
        devices=tuple(Link(device_name(bench, d), addresses.link(here, addresses.device(d))) for d in devices),
        pairs=pair_links(results, here, _pairs(results, devices)),
        pictures=pictures(here, others, site.sizes),
        numbers=_numbers(catalogue, results, here, bound.bound),
        warnings=tuple(map(str, bound.warnings)),
    )


def _about(results: Results, site: SiteContext, article: Article, devices: Sequence[str]) -> dict[str, Any]:
    """The review as Schema.org has it."""
    products = [named_product(results, site, d) for d in devices]
    return review(site, article) | {"itemReviewed": products[0] if len(products) == 1 else products}


def _figure(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    article_id: str,
    order: FigureOrder | BlockOrder | None,
) -> tuple[Drawing | None, Table | None]:
    """The chart or the table that stands where the article asks for it."""
    if order is None:
        return None, None
    key = f"review~{article_id}~{order.key}"
    if isinstance(order, FigureOrder):
        return _drawing(catalogue, results, here, key, order), None
    if isinstance(order.about, LongRunResult):
        return longrun_drawing(catalogue, results, site, here, order.about, key=key, title=order.title), None
    if isinstance(order.about, MixResult):
        return mix_drawing(catalogue, results, site, here, order.about, key=key, title=order.title), None
    if isinstance(order.about, RoleOver):
        over = order.about
        return role_drawing(catalogue, results, site, here, over.result, over.part, key=key, title=order.title), None
    return None, replace(_table(catalogue, results, here, order.about), key=key)


def _table(catalogue: Catalogue, results: Results, here: str, about: Ports | Inside | Ceilings) -> Table:
    """The table of another page; its caption names whose it is, where its headings do not."""
    bench = results.bench
    if isinstance(about, Ceilings):
        table: Table | None = ceiling_table(catalogue, results, here, about.ceilings)
        name = bench.clients[about.client].name
    elif isinstance(about, Ports):
        table, name = port_table(bench.devices[about.device]), device_name(bench, about.device)
    elif len(about.devices) == 1:
        table, name = part_table(catalogue, about.devices[0]), device_name(bench, about.devices[0])
    else:
        section = inside_section(catalogue, results, here, *about.devices)
        table, name = section.tables[0] if section else None, ""
    assert table is not None, about  # what would be empty was refused where it was asked for
    return replace(table, caption=f"{name}. {table.caption}") if name else table


def _drawing(catalogue: Catalogue, results: Results, here: str, key: str, order: FigureOrder) -> Drawing:
    if not order.whose:
        ranking = results.ranking(order.group, order.window)
        return ranking_drawing(results, here, ranking, title=order.title, spoken=order.spoken, key=key)
    lines = [
        Line(name, f"{side.firmware}, n = {sum(c.n for c in line.cells)}", line)
        for name, side in zip(line_names(order.whose), order.whose, strict=True)
        if (line := line_of(results.bench, side, order.group, match="attenuation")) is not None
    ]
    cells = [c for side in order.whose for c in cells_of_subject(results.bench, side, order.group)]
    dates = sorted(c.date for c in cells)
    return range_drawing(
        catalogue,
        results,
        here,
        key=key,
        title=order.title,
        match="attenuation",
        lines=lines,
        notes=[
            f"{results.names[order.group].text}. {wording.date_range(dates[0], dates[-1])}.",
            reading_note(results, lines),
        ],
        spoken=order.spoken,
        shared_range=order.shared,
    )


def _numbers(catalogue: Catalogue, results: Results, here: str, bound: Sequence[Bound]) -> Table | None:
    """What each number of the text is, with its device, firmware, client and day."""
    disputes = disputed(catalogue)
    return table_of(
        enumerate(bound, start=1),
        (
            Column(
                "In the text",
                lambda n: Entry(text=n[1].quote.printed, marks=_marks(disputes, here, n[1].quote)),
                sentence=True,
            ),
            Column(
                "What it is",
                lambda n: Entry(text=n[1].quote.what, href=_page_of(results, here, n[1].quote.devices)),
                sentence=True,
            ),
            Column("Device, firmware, unit", lambda n: Entry(text=n[1].quote.whose), sentence=True),
            Column("Measured with", lambda n: text_entry(n[1].quote.group, missing="any"), sentence=True),
            Column("Tested", lambda n: _dates_entry(n[1])),
            Column("Runs", lambda n: text_entry(str(n[1].quote.runs or ""), missing="none counts"), numeric=True),
        ),
        key="numbers",
        caption="Every number of the text that comes from the catalogue, in reading order, as it is on its own page.",
        row_key=lambda n: number_key(n[0]),
    ).or_none


def _dates_entry(number: Bound) -> Entry:
    return text_entry(number.quote.dates, missing="in the text" if number.binding.kind == "tested" else "day not noted")


def _marks(disputes: Disputed, here: str, quote: Quote) -> tuple[Link, ...]:
    return tuple(mark for device in quote.devices for mark in disputes.marks(here, device, figures=quote.figures))


def _page_of(results: Results, here: str, devices: Sequence[str]) -> str:
    """The page on which a quote of these devices stands; "" for a pair without one."""
    if len(devices) == 1:
        return addresses.link(here, addresses.device(devices[0]))
    a, b = sorted(devices)
    return addresses.link(here, addresses.pair(a, b)) if (a, b) in results.pairs_of.get(a, ()) else ""


def _pairs(results: Results, devices: list[str]) -> list[tuple[str, str]]:
    """Pairs among the devices; of a review of one device, that device's pairs."""
    of_any = sorted({pair for device in devices for pair in results.pairs_of.get(device, ())})
    return [pair for pair in of_any if set(pair) <= set(devices)] or of_any

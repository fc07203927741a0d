"""One chart by itself, small enough for a frame in somebody else's page: no script, nothing from other hosts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses
from builder.charts.figures import Figure
from builder.pages.parts.blocks import Link, Page
from builder.pages.parts.provenance import BRIEF


@dataclass(frozen=True, kw_only=True)
class ChartFrame(Page):
    """A chart as a picture with its words, and the page it stands on."""

    template: ClassVar[str] = "chart_frame"

    picture_href: str
    spoken: str
    source: Link


def chart_frame(page: Page, figure: Figure) -> ChartFrame:
    """The frame of a chart of *page*."""
    here = addresses.chart_frame(figure.key)
    return ChartFrame(
        address=here,
        title=figure.title,
        question=figure.title,
        verdict=figure.spoken,
        picture_href=addresses.link(here, addresses.chart_picture(figure.key)),
        spoken=figure.spoken,
        provenance=tuple(fact for fact in page.provenance if fact.term in BRIEF),
        source=Link(page.title, addresses.link(here, page.address, figure.key)),
    )

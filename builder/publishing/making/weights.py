"""How heavy pages are: what a browser fetches before it can show one, without photos and without what is asked for later."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from builder.publishing.checking.reports import refuse

PAGE_LIMIT_BYTES = 250_000


@dataclass(frozen=True, slots=True)
class HeavyPage:
    """A page over the limit, with what is fetched beside it. [B]"""

    page: str
    weight: int

    def __str__(self) -> str:
        return f"{self.page} weighs {self.weight / 1000:.0f} kB, and {PAGE_LIMIT_BYTES / 1000:.0f} kB is the most"


def heavy_pages(folder: Path, *, around: int) -> list[HeavyPage]:
    """The pages of a site that are over the limit, the heaviest first.

    around  what every page fetches: style sheet, icon, script. [B]
    """
    weighed = [
        HeavyPage(path.relative_to(folder).as_posix(), path.stat().st_size + around) for path in folder.rglob("*.html")
    ]
    found = [page for page in weighed if page.weight > PAGE_LIMIT_BYTES]
    return sorted(found, key=lambda page: (-page.weight, page.page))


def require_light_pages(folder: Path, *, around: int) -> None:
    """Raises BuildRefused, which names the pages that are over the limit; *around* as in heavy_pages."""
    refuse("Pages of the new site are too heavy for a phone", heavy_pages(folder, around=around))

"""The stills of a site: a folder of pictures for every figure that stands in an article, with its words for a script.

The article decides which figures a video needs: those it shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from builder import addresses
from builder.charts.converting import converter
from builder.charts.figures import Figure
from builder.charts.stills import pictures
from builder.pages.contents import SiteContext

WORDS = "words.txt"


@dataclass(frozen=True, slots=True)
class Stills:
    """What was written: the number of pictures, and a sentence for each figure that could not be drawn."""

    pictures: int
    left_out: tuple[str, ...]


def write_stills(figures: Sequence[Figure], *, site: SiteContext, folder: Path, jobs: int) -> Stills:
    """Write the stills of figures below *folder*, the same bytes each time.

    jobs  worker processes, at least 1
    """
    drawn = _drawn(figures, source=source_stamp(site), jobs=min(jobs, len(figures)))
    left_out: list[str] = []
    count = 0
    for figure, result in zip(figures, drawn, strict=True):
        if isinstance(result, str):
            left_out.append(result)
            continue
        for name, content in [*result, (WORDS, _words(figure).encode())]:
            target = folder / addresses.still(figure.key, name)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        count += len(result)
    return Stills(count, tuple(left_out))


def source_stamp(site: SiteContext) -> str:
    """Who publishes, where, and under which licence, as it stands on every still."""
    address = (site.address or "").removeprefix("https://").removeprefix("http://").rstrip("/")
    return ", ".join(part for part in (site.title, address, site.licence or "") if part) + "."


def _drawn(figures: Sequence[Figure], *, source: str, jobs: int) -> list[list[tuple[str, bytes]] | str]:
    draw = partial(_pictures, source=source)
    if jobs <= 1:
        return [draw(figure) for figure in figures]
    # Spawned, as for the pages' charts: the renderer has threads of its own.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=converter) as workers:
        return list(workers.map(draw, figures))


def _pictures(figure: Figure, *, source: str) -> list[tuple[str, bytes]] | str:
    try:
        return list(pictures(figure, source=source))
    except ValueError as failure:
        return f"No still was made: {failure}."


def _words(figure: Figure) -> str:
    """What a voice may say over the picture, and the notes under it."""
    return "\n".join([figure.title, figure.spoken, *figure.notes]) + "\n"

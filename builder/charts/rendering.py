"""Figures to SVG: rendered once a content, the same bytes in every process, on every machine and in any order.

What is drawn is kept under the SHA-256 of all that decides it: specifications, words, library versions, font
setting, and the code of this package between specification and result.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from functools import cache as once
from functools import partial
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path

from builder.charts import converting, svg_tidying, theme
from builder.charts import figures as figures_module
from builder.charts.converting import FONT_LIST, VL_VERSION, converter, drawing
from builder.charts.figures import Figure, bare
from builder.charts.svg_tidying import Ground, file_svg, page_svg


def render_svg(figure: Figure, *, cache: Path | None) -> str:
    """The figure for a page: one or two svg elements, of which the page's tokens show the one that fits.

    Without title, notes and ground, which the page has as text. Colours are custom properties with the light
    value to fall back on.

    cache   folder of what was drawn before, made if missing; None draws anew
    """
    return _kept(_page, figure, "page", cache)


def render_file(figure: Figure, *, cache: Path | None, ground: Ground = "light") -> str:
    """The figure as an SVG file that stands alone: title, notes and ground in plain colours."""
    return _kept(partial(_file, ground=ground), figure, f"file {ground}", cache)


def render_many(figures: Sequence[Figure], *, cache: Path | None, jobs: int) -> list[str]:
    """`render_svg` of many figures, in their order.

    jobs   worker processes, at least 1; 1 draws in this process
    """
    if jobs < 1:
        raise ValueError(f"jobs must be at least 1, got {jobs}")
    digests = [_digest(figure, "page") for figure in figures]
    drawn = {digest: text for digest in digests if (text := _read(cache, digest)) is not None}
    missing = {d: figure for d, figure in zip(digests, figures, strict=True) if d not in drawn}
    for digest, text in zip(missing, _drawn(missing.values(), min(jobs, len(missing))), strict=True):
        _keep(cache, digest, text)
        drawn[digest] = text
    return [drawn[digest] for digest in digests]


def _drawn(figures: Iterable[Figure], jobs: int) -> Iterable[str]:
    if jobs <= 1:
        yield from map(_page, figures)
        return
    # Spawned, not forked: the renderer has threads of its own, and a fork would copy their locks.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=converter) as workers:
        yield from workers.map(_page, figures, chunksize=4)


def _page(figure: Figure) -> str:
    ids = f"chart-{_digest(figure, 'page')[:12]}"
    words = {"title": figure.title, "spoken": figure.spoken}
    if figure.narrow is None:
        return page_svg(drawing(bare(figure.spec)), ids=ids, **words, layout="wide", display="block")
    # Without the page's tokens, in a feed reader say, the wide one shows.
    wide, narrow = "var(--chart-wide, block)", "var(--chart-narrow, none)"
    return page_svg(drawing(bare(figure.spec)), ids=f"{ids}-wide", **words, layout="wide", display=wide) + page_svg(
        drawing(bare(figure.narrow)), ids=f"{ids}-narrow", **words, layout="narrow", display=narrow
    )


def _file(figure: Figure, *, ground: Ground) -> str:
    return file_svg(
        drawing(figure.spec),
        ids=f"chart-{_digest(figure, 'file')[:12]}",
        title=figure.title,
        spoken=figure.spoken,
        ground=ground,
    )


def _kept(draw: Callable[[Figure], str], figure: Figure, kind: str, cache: Path | None) -> str:
    digest = _digest(figure, kind)
    text = _read(cache, digest)
    if text is None:
        text = draw(figure)
        _keep(cache, digest, text)
    return text


def _digest(figure: Figure, kind: str) -> str:
    """SHA-256 of everything that decides the drawing."""
    content = [kind, figure.key, figure.title, figure.spoken, figure.spec, figure.narrow, _surroundings()]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


@once
def _surroundings() -> str:
    """Library versions, font setting, and our own code between specification and result, as one digest."""
    own = [
        Path(__file__),
        FONT_LIST,
        *(Path(str(module.__file__)) for module in (converting, figures_module, svg_tidying, theme)),
    ]
    digest = hashlib.sha256(f"vl-convert {version('vl-convert-python')}, Vega-Lite {VL_VERSION}".encode())
    for path in own:
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _read(cache: Path | None, digest: str) -> str | None:
    if cache is None:
        return None
    try:
        text = (cache / f"{digest}.svg").read_text(encoding="utf-8")
    except (OSError, ValueError):  # nothing is kept, or it cannot be read: it is drawn anew
        return None
    # A machine that lost power may leave a short file under a whole name.
    return text if text.rstrip().endswith("</svg>") else None


def _keep(cache: Path | None, digest: str, text: str) -> None:
    """Written beside and then renamed: another process sees a whole file or none.

    A cache that cannot be written costs the next build time and nothing else.
    """
    if cache is None:
        return
    with suppress(OSError):
        cache.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=cache, suffix=".part", delete=False) as part:
            written = Path(part.name)
        try:
            written.write_text(text, encoding="utf-8")
            written.replace(cache / f"{digest}.svg")
        except OSError:
            written.unlink()

"""Every budget of the project beside its limit and a plain alternative. Run by hand, best on a quiet machine:

    python tests/benchmarks/benchmark.py                              # 25, 100 and 400 devices: about half an hour
    python tests/benchmarks/benchmark.py --devices 100 --only build   # rows with a word in their name

Processor seconds are of a command and all its children, both cores added, and distorted less by other work than
seconds by the clock. Limits are for 400 devices and by the clock; trust ratios more than seconds. CI runs it once at a
fiftieth, only to see that it runs.
"""

from __future__ import annotations

import argparse
import compileall
import math
import sys
import tempfile
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import building  # noqa: E402  (beside this file, which may be run from anywhere)
import comparing  # noqa: E402
import entering  # noqa: E402
import previewing  # noqa: E402
import starting  # noqa: E402
import weighing  # noqa: E402
from plain_site import NOT_DONE  # noqa: E402
from rows import HEADING, Figure, Place, Row, text_of  # noqa: E402

DEVICES = (25, 100, 400)
STEEP = 1.15  # an exponent of growth above it is said
ROWS = (
    *starting.ROWS,
    *entering.ROWS,
    *comparing.ROWS,
    *building.ROWS,
    *weighing.ROWS,
    *previewing.ROWS,
    *building.CHANGING,
)
Say = Callable[[str], object]


def measured(rows: Sequence[Row], place: Place, *, say: Say) -> tuple[dict[str, Figure], list[str]]:
    """What each row came to, printed as it comes, and the rows that failed."""
    figures, failed = {}, []
    say(f"\n{place.devices} devices\n{HEADING}")
    for row in rows:
        try:
            figure = row.measure(place)
        except Exception as trouble:  # one row that fails shall not cost the others' half hour
            failed.append(row.what)
            say(f"{row.what:<42} FAILED: {type(trouble).__name__}: {trouble}")
            continue
        say(text_of(row, figure))
        if figure is not None:
            figures[row.what] = figure
    return figures, failed


def growth(by_size: dict[int, dict[str, Figure]], *, say: Say) -> None:
    """From each size to the next: by which power of the number of devices processor time, or the figure, grew."""
    sizes = sorted(by_size)
    say(f"\nGrowth as a power of the number of devices ({' → '.join(map(str, sizes))})")
    for what in by_size[sizes[0]]:
        found = [_amount(by_size[size].get(what)) for size in sizes]
        if None in found:
            continue
        powers = [
            math.log(after / before) / math.log(larger / smaller)
            for (smaller, larger), (before, after) in zip(pairwise(sizes), pairwise(found), strict=True)
        ]
        steep = f"  above {STEEP}" if powers[-1] > STEEP else ""
        say(f"{what:<42} {'  '.join(f'{power:5.2f}' for power in powers)}{steep}")


def _amount(figure: Figure | None) -> float | None:
    if figure is None:
        return None
    amount = figure.processor if figure.processor is not None else figure.value
    return amount if amount is not None and amount > 0 else None


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--devices", type=int, nargs="+", default=DEVICES, metavar="N", help="sizes of the catalogue")
    parser.add_argument("--share", type=float, default=1.0, help="of the full size of logs and tables of their own")
    parser.add_argument("--pairs", type=int, default=2, help="how often the build and its peers are timed in turn")
    parser.add_argument("--brief", action="store_true", help="no median, no demo: only to see that all rows run")
    parser.add_argument("--only", default=[""], nargs="+", metavar="WORD", help="rows with one of these in their name")
    asked = parser.parse_args()
    rows = [row for row in ROWS if any(word in row.what for word in asked.only) and not (asked.brief and row.slow)]

    def say(text: str) -> None:
        print(text, flush=True)  # noqa: T201

    for folder in (ROOT / "builder", ROOT / "catalog", Path(__file__).parent):
        compileall.compile_dir(folder, quiet=1)  # as everything installed is, the peers' libraries among it
    by_size: dict[int, dict[str, Figure]] = {}
    failed: list[str] = []
    for number, devices in enumerate(sorted(asked.devices)):
        with tempfile.TemporaryDirectory(prefix="likeloss-benchmark-") as work:
            place = Place(Path(work), devices, asked.share, asked.pairs, asked.brief)
            due = [row for row in rows if not (row.once and number)]
            by_size[devices], here = measured(due, place, say=say)
            failed += here
    if len(by_size) > 1:
        growth(by_size, say=say)
    say(f"\nWhat the peers leave out: {'; '.join(NOT_DONE)}.")
    say(
        "Elsewhere: that a page is ready within 300 ms and a tool answers within 50 ms, tests/browser and tests/scripts."
    )
    if failed:
        say(f"\n{len(failed)} rows failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

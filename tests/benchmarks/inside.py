"""What is measured inside the program, by its own functions, in a process of its own; the answer is JSON.

python tests/benchmarks/inside.py verdicts CATALOG
"""

from __future__ import annotations

import itertools
import json
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]


@contextmanager
def timed(answer: dict[str, Any]) -> Iterator[None]:
    """Puts processor seconds, those of threads among them, and seconds by the clock into *answer*."""
    processor, clock = time.process_time(), time.perf_counter()
    yield
    answer |= {"processor": time.process_time() - processor, "clock": time.perf_counter() - clock}


def enter(batch: str, catalog: str, *before: str) -> dict[str, Any]:
    """From the files of a batch to rows and digests, without the start of the program; batches *before* warm it up."""
    from rows import NOW

    from catalog.entering import enter_batch

    for other in before:
        enter_batch(Path(other), into=Path(catalog), now=NOW)
    answer: dict[str, Any] = {}
    with timed(answer):
        report = enter_batch(Path(batch), into=Path(catalog), now=NOW)
    return answer | {"rows": report.rows_new}


def verdicts(catalog: str, as_of: str, most: str) -> dict[str, Any]:
    """All pairs in all groups at like loss at once, beside the function of one pair over *most* pairs of devices."""
    import numpy as np

    from builder.bench.bench import cells_of_subject, load_bench, subject_named
    from builder.bench.tracks import track
    from builder.pairs.all_pairs import line_pairs
    from builder.pairs.compare import compare
    from catalog.visibility import public_copy

    bench = load_bench(public_copy(Path(catalog), as_of=datetime.fromisoformat(as_of)))
    subjects = [subject_named(bench, device) for device in sorted(bench.devices)]
    answer: dict[str, Any] = {"verdicts": 0}
    with timed(answer):
        by_group: dict[object, list[list[object]]] = {}
        for subject in subjects:
            tested: dict[object, list[object]] = {}
            for cell in cells_of_subject(bench, subject):
                tested.setdefault(cell.group, []).append(cell)
            for group, cells in tested.items():
                by_group.setdefault(group, []).append(cells)
        for sides in by_group.values():
            tracks = [track(cells, match="attenuation") for cells in sides]
            pairs = line_pairs(bench, tracks, *np.triu_indices(len(tracks), 1), match="attenuation")
            answer["verdicts"] += len(pairs)
    every = list(itertools.combinations(subjects, 2))
    some = [every[i] for i in np.random.default_rng(7).permutation(len(every))[: int(most)]]
    one: dict[str, Any] = {}
    with timed(one):
        looped = sum(len(compare(bench, a, b, match="attenuation")) for a, b in some)
    return answer | {"one_by_one": one["processor"] / max(looped, 1) * answer["verdicts"], "groups": len(by_group)}


def rankings(catalog: str, as_of: str) -> dict[str, Any]:
    """Every window of every group ranked."""
    from builder.bench.bench import load_bench
    from builder.windows.ranking import rank, ranking_groups
    from catalog.method import WINDOW_NAMES
    from catalog.visibility import public_copy

    bench = load_bench(public_copy(Path(catalog), as_of=datetime.fromisoformat(as_of)))
    answer: dict[str, Any] = {}
    with timed(answer):
        made = [rank(bench, group, window) for group in ranking_groups(bench) for window in WINDOW_NAMES]
    return answer | {"rankings": len(made), "comparisons": sum(len(r.ranked) * (len(r.ranked) - 1) for r in made)}


def drawn(site: str) -> dict[str, Any]:
    """Milliseconds a chart of *site*, by the drawer and by vl-convert."""
    from drawing import drawing

    return drawing(Path(site))


if __name__ == "__main__":
    made = {"enter": enter, "verdicts": verdicts, "rankings": rankings, "drawn": drawn}[sys.argv[1]](*sys.argv[2:])
    sys.stdout.write(json.dumps(made) + "\n")

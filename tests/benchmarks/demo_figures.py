"""Every figure of the demo as one JSON file, and the differences between two such files.

For a change that must leave figures alone: write the file before it, hold the demo against it afterwards.

    python tests/benchmarks/demo_figures.py --write before.json
    python tests/benchmarks/demo_figures.py --against before.json
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

MATCHES = ("attenuation", "level", "spot")
RATES = (50.0, 100.0, 300.0, 600.0)
CLOSE = 1e-12


def demo_catalog(folder: Path) -> tuple[Path, datetime]:
    """The demo, entered and corrected as `likeloss demo` does it, and the instant it is built as of."""
    from builder.shipped import demo_folder
    from catalog.connection import open_catalog
    from catalog.correcting import correct_file
    from catalog.entering import enter_batch

    plan = tomllib.loads((demo_folder() / "demo.toml").read_text(encoding="utf-8"))
    now = datetime(2026, 7, 1, tzinfo=UTC)
    for name in plan["order"]:
        enter_batch(demo_folder() / "batches" / name, into=folder / "catalog.db", now=now)
    db = open_catalog(folder / "catalog.db", readonly=False)
    for name in plan.get("corrections", []):
        correct_file(demo_folder() / name, catalog=db, now=now)
    db.close()
    return folder / "catalog.db", datetime.fromisoformat(plan["build_instant"])


def figures() -> dict[str, Any]:
    """Name -> figure: all pairs and links under every match, all rankings, reaches, knots and roles."""
    from builder.bench.bench import load_bench
    from builder.pairs.compare import compare
    from builder.pairs.verdicts import to_json
    from builder.traces.showing import cell_json
    from builder.under_load.longruns import load_longruns, longrun_json
    from builder.windows.indirect import link_json, links
    from builder.windows.knots import knots
    from builder.windows.ranking import rank, ranking_groups, ranking_json
    from builder.windows.reach import reach_json, reaches
    from catalog.method import WINDOW_NAMES
    from catalog.visibility import public_copy

    documents: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        path, as_of = demo_catalog(Path(folder))
        copy = public_copy(path, as_of=as_of)
        bench = load_bench(copy)
        for cell in bench.cells:
            document = cell_json(cell)
            documents[f"cell {document['figure']}"] = document
        tested = sorted(bench.subjects.keys() & bench.cells_of.keys())  # without settings, which stand for themselves
        for a, b in combinations([bench.subjects[device] for device in tested], 2):
            for match in MATCHES:
                name = f"{match} {a.device} {b.device}"
                documents[name] = [to_json(figure) for figure in compare(bench, a, b, match=match)]
            documents[f"link {a.device} {b.device}"] = [link_json(link) for link in links(bench, a, b)]
        for group in ranking_groups(bench):
            for window in WINDOW_NAMES:
                documents[f"rank {group.slug} {window}"] = ranking_json(rank(bench, group, window))
        for device in tested:
            who = bench.subjects[device]
            documents[f"reach {device}"] = [reach_json(one) for one in reaches(bench, who, RATES)]
            for group in bench.grouped[device]:
                for match in MATCHES[:2]:
                    line = bench.line(who, group, match)
                    if line is not None:
                        points = knots(bench, [line], match=match)[0]
                        documents[f"knots {device} {group.slug} {match}"] = [
                            [k.x, k.value, k.low, k.high, k.bound, k.limit, k.n] for k in points
                        ]
        documents["longruns"] = [longrun_json(run) for run in load_longruns(copy)]
    return dict(leaves(documents))


def leaves(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Every single value of nested lists and mappings under the path that leads to it."""
    if isinstance(value, dict):
        for key, part in value.items():
            yield from leaves(part, f"{name} / {key}" if name else str(key))
    elif isinstance(value, list | tuple):
        for number, part in enumerate(value):
            yield from leaves(part, f"{name} [{number}]")
    else:
        yield name, value


def differs(before: Any, now: Any) -> bool:
    """Whether two values are not the same, numbers within one part in 10^12."""
    if isinstance(before, float | int) and isinstance(now, float | int) and not isinstance(before, bool):
        return not math.isclose(before, now, rel_tol=CLOSE, abs_tol=CLOSE)
    return bool(before != now)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", type=Path, metavar="FILE")
    parser.add_argument("--against", type=Path, metavar="FILE")
    asked = parser.parse_args()
    now = json.loads(json.dumps(figures()))
    if asked.write is not None:
        asked.write.write_text(json.dumps(now, indent=0), encoding="utf-8")
        sys.stdout.write(f"{len(now):,} figures written\n")
    if asked.against is None:
        return 0
    before = json.loads(asked.against.read_text(encoding="utf-8"))
    changed = [name for name in sorted(before.keys() | now.keys()) if differs(before.get(name), now.get(name))]
    for name in changed:
        sys.stdout.write(f"{name}: was {before.get(name)!r}, is {now.get(name)!r}\n")
    sys.stdout.write(f"{len(now):,} figures, {len(changed):,} differ\n")
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main())

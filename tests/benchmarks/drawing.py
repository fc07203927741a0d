"""A chart drawn from its specification, by the drawer and by vl-convert. By hand, of the charts of any site:

python tests/benchmarks/drawing.py SITE
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zipfile import ZipFile

ROOT = Path(__file__).parents[2]
MOST_BY_VEGA = 40  # it is slow


def drawing(site: Path) -> dict[str, float]:
    """Processor time a chart [ms], and vl-convert's of as many charts as there is patience for."""
    from builder.charts.converting import VL_VERSION, converter
    from builder.charts.drawer import draw
    from builder.charts.figures import bare

    paths = sorted((site / "figures").glob("*.json.zip"))
    specs = [bare(json.loads(ZipFile(path).read(path.name.removesuffix(".zip")))) for path in paths]
    few = specs[:: max(1, len(specs) // MOST_BY_VEGA)]

    def by_vega(spec: dict[str, Any]) -> None:
        converter().vegalite_to_svg(spec, vl_version=VL_VERSION)

    for warm in (by_vega, lambda spec: draw(spec, str)):
        warm(specs[0])
    ours = _milliseconds(lambda spec: draw(spec, str), specs)
    theirs = _milliseconds(by_vega, few)
    return {"charts": len(specs), "drawer_ms": ours, "vega_ms": theirs, "by_vega": len(few)}


def _milliseconds(draw: Callable[[dict[str, Any]], object], specs: list[dict[str, Any]]) -> float:
    begun = time.process_time()
    for spec in specs:
        draw(spec)
    return (time.process_time() - begun) * 1000 / len(specs)


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    sys.stdout.write(json.dumps(drawing(Path(sys.argv[1]))) + "\n")

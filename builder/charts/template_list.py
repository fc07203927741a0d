"""The templates that are shipped: those that the charts of a site take. Run as a program it writes them anew."""

from __future__ import annotations

from collections import defaultdict
from itertools import product
from typing import Any, get_args

import orjson

from builder.charts import (
    longrun_template,
    longwaits_template,
    overview_chart,
    overview_template,
    range_template,
    ranking_chart,
    ranking_template,
    share_chart,
    share_template,
    step_chart,
    waiting_chart,
    waiting_template,
)
from builder.charts.longrun_template import UNIT_NAMES
from builder.charts.templates import BUILT, SHIPPED, SOURCES, Builder, sources
from builder.observed import text_of

USUAL: tuple[tuple[Builder, tuple[tuple[Any, ...], ...]], ...] = (
    (
        range_template.built,
        tuple(product(get_args(range_template.AxisKind), (range_template.WIDE, range_template.NARROW), (False, True))),
    ),
    (overview_template.built, ((overview_chart.WIDE,), (overview_chart.NARROW,))),
    (ranking_template.built, tuple(product((ranking_chart.WIDE, ranking_chart.NARROW), ("Mbit/s",)))),
    (waiting_template.built, ((waiting_chart.WIDE,), (waiting_chart.NARROW,))),
    (share_template.built, ((share_chart.WIDE,), (share_chart.NARROW,))),
    (longrun_template.built, tuple(product((longrun_template.WIDE, longrun_template.NARROW), UNIT_NAMES))),
    (longwaits_template.built, tuple(product((longwaits_template.WIDE, longwaits_template.NARROW), UNIT_NAMES))),
    (step_chart.built, ((),)),
)


def as_altair_builds_them() -> dict[str, Any]:
    """What the file of shipped templates holds."""
    modules: dict[str, dict[str, Any]] = defaultdict(dict)
    for builder, calls in USUAL:
        build: Builder = builder.__wrapped__  # type: ignore[attr-defined]
        for arguments in calls:
            modules[build.__module__][text_of(arguments)] = orjson.loads(build(*arguments))
    return {SOURCES: sources(), BUILT: dict(modules)}


if __name__ == "__main__":
    SHIPPED.write_bytes(orjson.dumps(as_altair_builds_them(), option=orjson.OPT_SORT_KEYS | orjson.OPT_APPEND_NEWLINE))

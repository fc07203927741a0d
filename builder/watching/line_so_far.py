"""The line of a day with its band beside the other device, as the site draws it, and the cells behind it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from builder import wording
from builder.bench.bench import Bench, labels
from builder.bench.cells import Group
from builder.charts.rendering import render_svg
from builder.pages.parts.drawing import Line, range_picture
from builder.pairs.verdicts import PairFigure
from builder.watching.day_plan import DayPlan
from builder.windows.knots import knots

Key = tuple[str, str, str]


def picture_so_far(after: Bench, made: DayPlan, group: Group, figure: PairFigure | None) -> str:
    """The lines of the two devices in the group of the day, wide and narrow, as SVG with the site's custom properties;
    "" where the device has none.
    """
    sides = [one for one in (made.device, made.other) if one is not None]
    names = (made.device.model,) if made.other is None else labels(made.device, made.other)
    lines = []
    for side, name in zip(sides, names, strict=True):
        track = after.line(side, group, "attenuation")
        if track is not None:
            lines.append(Line(name, f"{side.firmware}, n = {sum(cell.n for cell in track.cells)}", track))
    if not lines or lines[0].track.cells[0].device != made.device.device:
        return ""
    shared = None if figure is None or figure.verdict == "refused" else figure.range
    drawn = range_picture(
        after,
        [epoch for epochs in after.epochs.values() for epoch in epochs],
        key="so-far",
        title=f"How does {made.device.model} do so far?",
        match="attenuation",
        lines=lines,
        notes=(),
        spoken=f"{wording.listing([line.label for line in lines], 'beside')} so far.",
        shared_range=shared,
    )
    return render_svg(drawn)


def cells_so_far(after: Bench, made: DayPlan, group: Group, done: Mapping[Key, int]) -> tuple[Mapping[str, Any], ...]:
    """Each cell of the plan: what it is of, runs done and planned, its value and interval in words."""
    said: dict[tuple[str, str], tuple[str, str]] = {}
    for side in (made.device, made.other):
        track = None if side is None else after.line(side, group, "attenuation")
        if side is None or track is None:
            continue
        for knot in knots(after, [track], match="attenuation")[0]:
            interval = ""
            if knot.low is not None and knot.high is not None:
                interval = wording.in_95(wording.between(knot.low, knot.high, wording.rate_decimals(knot.value)))
            for spot in knot.spots or (f"{wording.decibels(knot.x)} dB",):
                said[side.device, spot] = wording.rate(knot.value, bound=knot.bound), interval
    return tuple(
        {
            "device": after.devices[device].model if device in after.devices else device,
            "session": session,
            "spot": spot,
            "done": done.get((device, session, spot), 0),
            "planned": often,
            "value": said.get((device, spot), ("", ""))[0] if done.get((device, session, spot)) else "",
            "interval": said.get((device, spot), ("", ""))[1] if done.get((device, session, spot)) else "",
        }
        for (device, session, spot), often in made.cells.items()
    )

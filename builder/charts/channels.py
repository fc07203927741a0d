"""Channels of a layer: what a row of data says of place, colour, dash, size, text and link."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from builder.charts.grammar import NotDrawn, Plot, only
from builder.charts.scales import Scale

Row = dict[str, Any]
Reading = Callable[[Row], Any]

_POSITION = frozenset(("field", "type", "scale", "axis", "value", "datum", "title"))
_LOOK = frozenset(("field", "type", "scale", "legend", "value"))
_BY_LISTS = frozenset(("domain", "range", "type"))
_WORDS = frozenset(("field", "type", "value"))


def position(channel: Mapping[str, Any] | None, scale: Scale | None, plot: Plot, where: str) -> Reading | None:
    """A place in px by row, None where the channel is not given; of a row without the value, None."""
    if channel is None:
        return None
    only(channel, _POSITION, where)
    if channel.get("type", "quantitative") != "quantitative":
        raise NotDrawn(f"{where}.type is {channel['type']!r}; drawn are quantitative places")
    if "value" in channel:
        fixed = plot.literal(channel["value"], f"{where}.value")
        place = {"width": plot.width, "height": plot.height}.get(fixed, fixed) if isinstance(fixed, str) else fixed
        return lambda row: place
    if scale is None:
        raise NotDrawn(f"{where}.scale.domain is missing")
    if "datum" in channel:
        value = scale(float(plot.literal(channel["datum"], f"{where}.datum")))
        return lambda row: value
    field = channel["field"]

    def read(row: Row) -> float | None:
        value = row.get(field)
        return None if value is None or not math.isfinite(value) else scale(value)

    return read


def look(channel: Mapping[str, Any], plot: Plot, where: str) -> Reading:
    """What a channel other than of a place says by row: a value, a field as it is, or a field by two lists."""
    only(channel, _LOOK, where)
    if channel.get("legend") is not None:
        raise NotDrawn(f"{where}.legend is outside of what is drawn")
    if "value" in channel:
        fixed = plot.literal(channel["value"], f"{where}.value")
        return lambda row: fixed
    field = channel["field"]
    if "scale" not in channel:
        raise NotDrawn(f"{where}.scale is missing; drawn are null, and a domain with a range")
    scale = channel["scale"]
    if scale is None:
        return lambda row: row.get(field)
    only(scale, _BY_LISTS, f"{where}.scale")
    names, values = scale.get("domain"), scale.get("range")
    if not isinstance(names, list) or not isinstance(values, list) or len(names) > len(values):
        raise NotDrawn(f"{where}.scale.range is not a list as long as its domain")
    by_name = dict(zip(names, values, strict=False))

    def read(row: Row) -> Any:
        name = row.get(field)
        if name not in by_name:
            raise NotDrawn(f"{where}.scale.domain does not hold {name!r}")
        return by_name[name]

    return read


def words(channel: Mapping[str, Any] | None, plot: Plot, where: str) -> Reading | None:
    """Text or the address of a link by row; None where the channel is not given."""
    if channel is None:
        return None
    only(channel, _WORDS, where)
    if "value" in channel:
        fixed = str(plot.literal(channel["value"], f"{where}.value"))
        return lambda row: fixed
    field = channel["field"]

    def read(row: Row) -> str:
        value = row.get(field)
        if isinstance(value, (list, dict, float)):
            raise NotDrawn(f"{where}.field {field!r} holds {value!r}; drawn is text as it is written")
        return "" if value is None else str(value)

    return read

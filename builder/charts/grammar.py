"""The part of Vega-Lite's grammar that the drawer knows, and how whatever lies outside of it is refused by name."""

from __future__ import annotations

import re
from collections.abc import Mapping, Set
from dataclasses import dataclass
from typing import Any

# The only expressions: a parameter's name, or a place from the right or the lower edge of the plot.
_PLACE = re.compile(r"(\w+)(?: ([+-]) (\d+(?:\.\d+)?))?")

_EXPRESSION = frozenset(("expr", "signal"))


class NotDrawn(ValueError):
    """A specification uses what the drawer does not draw. The message names the property."""


def only(given: Mapping[str, Any], known: Set[str], where: str) -> None:
    """Raises NotDrawn where *given* has a property that is not *known*."""
    if not given.keys() <= known:
        name = next(name for name in given if name not in known)
        raise NotDrawn(f"{where}.{name} is outside of what is drawn")


def must(given: Mapping[str, Any], name: str, values: tuple[Any, ...], where: str) -> None:
    """Raises NotDrawn where a property is there, or missing (None), with another value than one of *values*."""
    if not any(given.get(name) is value or given.get(name) == value for value in values):
        raise NotDrawn(f"{where}.{name} is {given.get(name)!r}; drawn are {', '.join(map(repr, values))}")


@dataclass(frozen=True, slots=True)
class Plot:
    """What a unit is drawn on: its size [px], the values of parameters, data sets, and settings for axes."""

    width: float
    height: float
    params: Mapping[str, Any]
    datasets: Mapping[str, list[dict[str, Any]]]
    axes: Mapping[str, Any]

    def literal(self, value: Any, where: str) -> Any:
        """*value*, or what its expression comes to."""
        if not isinstance(value, dict):
            return value
        only(value, _EXPRESSION, where)
        text = value.get("expr", value.get("signal"))
        names = {**self.params, "width": self.width, "height": self.height}
        match = _PLACE.fullmatch(str(text))
        if match is None or match[1] not in names:
            raise NotDrawn(f"{where} is the expression {text!r}; drawn are parameters and places from an edge")
        if match[2] is None:
            return names[match[1]]
        return names[match[1]] + float(match[2] + match[3])

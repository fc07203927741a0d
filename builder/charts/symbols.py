"""Shapes of points, as Vega draws them: by name, or as a path in units of half the side of their size.

A size is an area in px²; a named shape or a path scales with its root.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

from builder.charts.grammar import NotDrawn
from builder.charts.pieces import Box, number

_HALF_ROOT_3 = math.sqrt(3) / 2
_ARM = 1 / 2.5  # half the width of a cross's arm
_TOKEN = re.compile(r"([MLHVZmlhvz])|(-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?)|[\s,]+|(.)")

# In units of half the side; the circle is the only one with a bend.
NAMED = {
    "square": "M-1,-1L1,-1L1,1L-1,1Z",
    "diamond": "M-1,0L0,-1L1,0L0,1Z",
    "triangle-up": f"M0,{-_HALF_ROOT_3}L-1,{_HALF_ROOT_3}L1,{_HALF_ROOT_3}Z",
    "triangle-down": f"M0,{_HALF_ROOT_3}L-1,{-_HALF_ROOT_3}L1,{-_HALF_ROOT_3}Z",
    "cross": (
        f"M-1,{-_ARM}L-1,{_ARM}L{-_ARM},{_ARM}L{-_ARM},1L{_ARM},1L{_ARM},{_ARM}"
        f"L1,{_ARM}L1,{-_ARM}L{_ARM},{-_ARM}L{_ARM},-1L{-_ARM},-1L{-_ARM},{-_ARM}Z"
    ),
    "stroke": "M-1,0L1,0",
}


@lru_cache(maxsize=512)
def symbol(shape: str, size: float) -> tuple[str, Box]:
    """Path and room of a shape around the origin. Raises NotDrawn for one of other than straight lines."""
    half = math.sqrt(size) / 2
    if shape == "circle":
        turn = f"A{number(half)},{number(half)},0,1,1,"
        path = f"M{number(half)},0{turn}{number(-half)},0{turn}{number(half)},0"
        return path, Box(-half, -half, half, half)
    path = NAMED.get(shape, shape)
    if not path.startswith(("M", "m")):
        raise NotDrawn(f"shape {shape!r} is neither known nor a path; drawn are circle, {', '.join(NAMED)}")
    text: list[str] = []
    numbers: list[str] = []
    at = start = (0.0, 0.0)
    places = [at]
    command = ""

    def take() -> None:
        nonlocal at, start, command
        while True:
            given = [float(n) * half for n in numbers[: _TAKES[command.upper()]]]
            at = _moved(at, start, command, given)
            places.append(at)
            if command in "Mm":
                start = at
            text.append(command + ",".join(number(value) for value in given))
            del numbers[: _TAKES[command.upper()]]
            if not numbers:
                return
            command = {"M": "L", "m": "l"}.get(command, command)

    for letter, digits, other in _TOKEN.findall(path):
        if other or (digits and not command):
            raise NotDrawn(f"shape {shape!r} holds {other or digits!r}; drawn are straight lines")
        if letter:
            if command:
                take()
            command = letter
        elif digits:
            numbers.append(digits)
    take()
    across, down = [x for x, _ in places[1:]], [y for _, y in places[1:]]
    return "".join(text), Box(min(across), min(down), max(across), max(down))


_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "Z": 0}


def _moved(
    at: tuple[float, float], start: tuple[float, float], command: str, given: list[float]
) -> tuple[float, float]:
    if command in "Zz":
        return start
    x0, y0 = at if command.islower() else (0.0, 0.0)
    if command in "Hh":
        return x0 + given[0], at[1]
    if command in "Vv":
        return at[0], y0 + given[0]
    return x0 + given[0], y0 + given[1]

"""A line of text in a drawing: where Vega puts its letters, and the room they take."""

from __future__ import annotations

from dataclasses import dataclass

from builder.charts.grammar import NotDrawn
from builder.charts.pieces import Box, Look, Piece, number
from builder.charts.theme import text_width

_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
_BEFORE = {"left": 0.0, "center": 0.5, "right": 1.0}  # share of a text that lies before its place
# From a baseline to that of letters, in sizes of the text, and rounded: Vega sets it itself, as readers differ.
_BASELINES = {"alphabetic": 0.0, "top": 0.79, "middle": 0.30, "bottom": -0.21}
_ASCENT = 0.8


@dataclass(frozen=True, slots=True)
class Lettering:
    """How a text is set: size [px], weight, which side and height of it lies at its place, degrees it is turned by."""

    size: float
    bold: bool
    align: str
    baseline: str
    angle: float = 0.0


def lettered(
    text: str, x: float, y: float, lettering: Lettering, look: Look, *, dx: float = 0.0, dy: float = 0.0
) -> Piece:
    """A line of text.

    look    as `look_of_letters` gives it, once for many lines
    dx, dy  from its place, turned with it [px]
    """
    wide, size = text_width(text, lettering.size, bold=lettering.bold), lettering.size
    down = round_half_up(_BASELINES[lettering.baseline] * size)
    left, top = dx - wide * _BEFORE[lettering.align], dy + down - round_half_up(_ASCENT * size)
    if lettering.angle % 360 in (90, 270):
        turn = 1 if lettering.angle % 360 == 90 else -1
        ends = sorted((turn * left, turn * (left + wide))), sorted((-turn * top, -turn * (top + size)))
        box = Box(x + ends[1][0], y + ends[0][0], x + ends[1][1], y + ends[0][1])
        place = f'transform="translate({number(x)},{number(y)})rotate({number(lettering.angle)})"'
        place += f' x="{number(dx)}" y="{number(dy + down)}"'
    elif lettering.angle % 360:
        raise NotDrawn(f"angle {lettering.angle:g} is outside of what is drawn; drawn are quarters of a turn")
    else:
        box = Box(x + left, y + top, x + left + wide, y + top + size)
        place = f'x="{number(x + dx)}" y="{number(y + dy + down)}"'
    return Piece("text", place, look, box, text)


def look_of_letters(lettering: Lettering, attributes: Look) -> Look:
    """Attributes of texts that are set so, beside others. Raises NotDrawn for an unknown side or height."""
    if lettering.align not in _ANCHORS or lettering.baseline not in _BASELINES:
        raise NotDrawn(f"text {lettering.align}, {lettering.baseline} is outside of what is drawn")
    shown = {"font-size": f"{number(lettering.size)}px", **attributes}
    if lettering.bold:
        shown["font-weight"] = "bold"
    if lettering.align != "left":
        shown["text-anchor"] = _ANCHORS[lettering.align]
    return shown


def round_half_up(value: float) -> int:
    """As JavaScript rounds."""
    return int((value + 0.5) // 1)

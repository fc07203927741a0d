"""What a drawing is made of: elements with their look and the room they take, written as short SVG."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

Paint = Callable[[str], str]  # from a colour of the specification to what the picture asks for
Look = dict[str, str]  # presentation attributes of SVG, all of them inherited but opacity and what refers to a whole

_PLAIN = re.compile(r"[\w#.,() %-]*").fullmatch  # a value that needs no quoting


class Box(NamedTuple):  # and Piece: a chart has hundreds of each, and a record takes three times as long to make
    """Room taken. [px]"""

    left: float
    top: float
    right: float
    bottom: float

    def moved(self, x: float, y: float) -> Box:
        """The same room elsewhere."""
        return Box(self.left + x, self.top + y, self.right + x, self.bottom + y)

    def grown(self, by: float) -> Box:
        """With an edge around it."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)


class Piece(NamedTuple):
    """An element: its tag and attributes of place as they are written, its look, text, link and room."""

    tag: str
    place: str
    look: Look
    box: Box | None
    text: str = ""
    href: str = ""


def around(boxes: Iterable[Box | None]) -> Box | None:
    """The room that all take together."""
    taken = [box for box in boxes if box is not None]
    if not taken:
        return None
    left, top, right, bottom = zip(*taken, strict=True)
    return Box(min(left), min(top), max(right), max(bottom))


def number(value: float) -> str:
    """A place to a thousandth of a px, which nobody sees; at a hundredth a hairline may come to lie in another shade."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def straight(x: float, y: float, across: float, down: float) -> str:
    """The place of a path from x, y that goes so far in a straight line. [px]"""
    if not across or not down:
        way = f"v{number(down)}" if down else f"h{number(across)}"
    else:
        way = f"l{number(across)},{number(down)}"
    return f'd="M{number(x)},{number(y)}{way}"'


def written(pieces: Sequence[Piece]) -> str:
    """Pieces of one mark; a group says what they all say alike. *opacity* stays, for a group's is laid over the whole."""
    if not pieces:
        return ""
    first, shared = pieces[0].look, {}
    if len(pieces) > 1:
        if _is_line(first) and all(piece.look == first and _has_way(piece) for piece in pieces):
            ways = "".join(piece.place.removeprefix('d="').removesuffix('"') for piece in pieces)
            return f'<path d="{ways}"{_attributes(first)}/>'
        alike = set(first.items()).intersection(*(piece.look.items() for piece in pieces if piece.look is not first))
        shared = {name: value for name, value in first.items() if name != "opacity" and (name, value) in alike}
    elements: list[str] = []
    look, attributes = None, ""
    for piece in pieces:
        if piece.look is not look:  # most pieces of a mark have the very same
            look = piece.look
            attributes = _attributes({name: value for name, value in look.items() if name not in shared})
        elements.append(_element(piece, attributes))
    inner = "".join(elements)
    return f"<g{_attributes(shared)}>{inner}</g>" if shared else inner


def _is_line(look: Look) -> bool:
    """Whether a path looks the same as a part of a longer one: of strokes that let nothing through, and nothing else."""
    return "stroke" in look and not {"fill", "opacity", "stroke-opacity"} & look.keys()


def _has_way(piece: Piece) -> bool:
    return piece.place.startswith('d="') and not piece.href


def _element(piece: Piece, attributes: str) -> str:
    opening = f"<{piece.tag} {piece.place}{attributes}"
    element = f"{opening}>{escape(piece.text)}</{piece.tag}>" if piece.text else f"{opening}/>"
    return f"<a href={quoteattr(piece.href)}>{element}</a>" if piece.href else element


def _attributes(look: Look) -> str:
    return "".join(
        [f' {name}="{value}"' if _PLAIN(value) else f" {name}={quoteattr(value)}" for name, value in look.items()]
    )

"""What stands between, under the axis of a range chart: each text hangs on a line at its place, on one of many steps.

Places are px, y growing downwards from the highest step's first line of text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.charts.label_text import Box
from builder.charts.theme import balanced, held, text_room

HANGS = 6  # from a line to its text [px]
MOST_BETWEEN = 2  # kinds of wall on a narrow drawing, beside the first and the last

_LINES = 2  # a text takes no more lines than this where a wider one would do
_WIDTHS = (116.0, 150.0, 200.0)  # tried for that, from narrow to wide [px]


@dataclass(frozen=True, slots=True)
class Wall:
    """One text under the axis.

    x       where its line hangs [px]
    lines   of text
    top     of its first line of text [px]
    before  whether it stands left of its line, so that it stays inside of the frame
    """

    x: float
    lines: tuple[str, ...]
    top: float
    before: bool

    def bottom(self, leading: float) -> float:
        """Where its line ends. [px]"""
        return self.top + len(self.lines) * leading


def chosen(texts: Sequence[str]) -> list[int]:
    """Which texts a narrow drawing shows: the first, the last, and between them two kinds of wall.

    texts   in the order of their places
    """
    ends = [0, len(texts) - 1] if len(texts) > 1 else [0][: len(texts)]
    between = range(1, len(texts) - 1)
    # A wall by itself says more than one of several things in the way, and what is no wall says less.
    order = sorted(between, key=lambda i: ("wall" not in texts[i], texts[i].count(","), i))
    kinds: dict[str, int] = {}
    for i in order:
        if texts[i] not in {texts[end] for end in ends}:
            kinds.setdefault(texts[i], i)
    return sorted({*ends, *list(kinds.values())[:MOST_BETWEEN]})


def hung(
    places: Sequence[float],
    texts: Sequence[str],
    *,
    size: float,
    leading: float,
    step: float,
    left: float,
    right: float,
) -> list[Wall]:
    """Each text on the highest step on which its words end before the next line.

    From the right, so that of two places too near for their words the right one has the higher step. Where words would
    leave the frame, or meet the line of the last, they are set left of their line, below the places they reach over.
    The last of all, if that is set left, goes on whatever step is free below the others. What finds no place in the
    frame is left out.

    places       where the lines hang, ascending, shape (n,) [px]
    size         of the text; leading from line to line; step from one step to the next [px]
    left, right  ends of the frame [px]
    """
    following = [*places[1:], right][: len(places)]
    lines = [
        _wrapped(text, size, after - place - HANGS, right - left - HANGS)
        for text, place, after in zip(texts, places, following, strict=True)
    ]
    widths = [HANGS + max(text_room(line, size) for line in of_text) for of_text in lines]
    last = len(places) - 1
    turned = last >= 0 and places[last] + widths[last] > right
    walls: list[tuple[Wall, Box]] = []
    for i in sorted(range(len(places)), key=lambda i: (turned and i == last, -places[i])):
        x, end = places[i], places[last] if turned and i != last else right
        tries = [False] if x + widths[i] <= end else []
        tries += [True] if x - widths[i] >= left else []
        found = None
        for before in tries:
            span = (x - widths[i], x) if before else (x, x + widths[i])
            above = sum(span[0] < place < span[1] for place in places[:i]) if before else 0
            found = found or _highest(x, span, lines[i], before, above, walls, leading=leading, step=step)
        if found:
            walls.append(found)
    return sorted((wall for wall, _ in walls), key=lambda wall: wall.x)


def _highest(
    x: float,
    span: tuple[float, float],
    lines: tuple[str, ...],
    before: bool,
    above: int,
    walls: Sequence[tuple[Wall, Box]],
    *,
    leading: float,
    step: float,
) -> tuple[Wall, Box] | None:
    """The text on the highest step that is free, *above* steps left to others; None where its line is in the way."""
    for row in range(above, above + 2 * len(walls) + 2):
        wall = Wall(x, lines, row * step, before)
        box = (span[0], wall.top, span[1], wall.bottom(leading))
        if all(_apart(wall, box, *other, leading) for other in walls):
            return wall, box
    return None


def _wrapped(text: str, size: float, room: float, most: float) -> tuple[str, ...]:
    """In two lines where they end before the next line, else in as few as a usual width takes. [px]"""
    lines = balanced(text, room, size)
    if len(lines) <= _LINES and all(text_room(line, size) <= room for line in lines):
        return tuple(lines)
    for width in (*_WIDTHS, most):
        lines = held(text, min(width, most), size)
        if len(lines) <= _LINES:
            break
    return tuple(lines)


def _apart(one: Wall, box: Box, other: Wall, taken: Box, leading: float) -> bool:
    """Whether two texts, and each one's line and the other's text, keep clear of each other."""
    texts = box[2] <= taken[0] or taken[2] <= box[0] or box[3] <= taken[1] or taken[3] <= box[1]
    return texts and not _crosses(one, taken, leading) and not _crosses(other, box, leading)


def _crosses(wall: Wall, box: Box, leading: float) -> bool:
    return box[0] < wall.x < box[2] and wall.bottom(leading) > box[1]

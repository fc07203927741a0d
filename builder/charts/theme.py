"""How our charts look: paper and ink, and few muted hues given by position.

Hues come from published colour-blind-safe sets: Paul Tol's "muted" scheme, with two reds of his contrast schemes (Colour
Schemes, SRON technical note SRON/EPS/TN/09-002), and the black of Okabe & Ito (2002). On either ground only members with a contrast of 3:1 are
used (WCAG 2.2, 1.4.11), so a position has its own member of the scheme by day and by night.
Every series also has a dash and a mark shape of its own and a label at its line: hue never carries it alone.

A colour is a *role*: specifications hold its light value, pages the custom property of the same name
(site_templates/css/tokens.css holds both values of each; a test compares).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from builder import wording
from builder.charts import face

MAX_SERIES = 6


@dataclass(frozen=True, slots=True)
class Role:
    """A colour by what it is for: its custom property, its value on paper and on the dark ground."""

    name: str
    light: str
    dark: str


GROUND = Role("--ground", "#FAF7F0", "#1A1815")
SHADE = Role("--shade", "#F1EADB", "#39332A")
TEXT = Role("--text", "#26221C", "#ECE5D8")
TEXT_MUTED = Role("--text-muted", "#5F574B", "#B3A997")
GRID = Role("--line-faint", "#DDD4C2", "#3A352D")
AXIS = Role("--line", "#857B6B", "#8F8574")
CALM = Role("--calm", "#7C84B0", "#6B76B2")  # what came in time

SERIES = (
    Role("--series-1", "#332288", "#88CCEE"),  # Tol muted indigo, cyan
    Role("--series-2", "#BB5566", "#EE99AA"),  # Tol high-contrast red, medium-contrast light red
    Role("--series-3", "#117733", "#44AA99"),  # green, teal
    Role("--series-4", "#882255", "#DDCC77"),  # wine, sand
    Role("--series-5", "#AA4499", "#999933"),  # purple, olive
    Role("--series-6", "#000000", "#DDDDDD"),  # Okabe & Ito black, Tol muted pale grey
)

ROLES = (GROUND, SHADE, TEXT, TEXT_MUTED, GRID, AXIS, CALM, *SERIES)

# Lengths of stroke and gap in px. No two share a rhythm, so a copy in grey keeps the lines apart.
DASHES: tuple[tuple[int, ...], ...] = ((1, 0), (9, 4), (2, 3), (10, 3, 2, 3), (4, 2), (14, 3, 2, 3, 2, 3))

# Vega's names of outlines that are told apart at 8 px.
SHAPES = ("circle", "square", "diamond", "triangle-down", "cross", "triangle-up")

# The face that pages and pictures bring along, then usual ones, for readers that take no face from a picture.
FONT = f"'{face.FAMILY}', 'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', 'Nimbus Sans', sans-serif"


@dataclass(frozen=True, slots=True)
class Layout:
    """Sizes of one chart in px.

    plot_width, plot_height  the plot itself; a chart may grow in height for many labels
    label_width              the column of labels left of the plot; 0 where they stand in it or above their rows
    text                     size of labels and axis numbers
    note                     size of the lines under the chart
    """

    plot_width: int
    plot_height: int
    label_width: int
    text: int
    note: int

    @property
    def line_height(self) -> int:
        """From one line of text to the next."""
        return self.text + 3


def series_numbers(count: int) -> list[str]:
    """Names of the first *count* positions, "1" to "6".

    Raises  ValueError for none, or for more than can be told apart.
    """
    if not 1 <= count <= MAX_SERIES:
        raise ValueError(f"a chart holds 1 to {MAX_SERIES} series, got {count}")
    return [str(position) for position in range(1, count + 1)]


def hues() -> list[str]:
    """Light values of the positions, in order."""
    return [role.light for role in SERIES]


def config(layout: Layout) -> dict[str, Any]:
    """Vega-Lite `config` of every chart of ours."""
    return {
        "font": FONT,
        "view": {"stroke": None},
        "axis": {
            "domainColor": AXIS.light,
            "tickColor": AXIS.light,
            "gridColor": GRID.light,
            "labelColor": TEXT_MUTED.light,
            "titleColor": TEXT_MUTED.light,
            "labelFontSize": layout.text,
            "titleFontSize": layout.text,
            "titleFontWeight": "normal",
            "titlePadding": 8,
            "labelPadding": 4,
        },
        "title": {
            "anchor": "start",
            "frame": "bounds",
            "color": TEXT.light,
            "fontSize": layout.text + 5,
            "fontWeight": "bold",
            "offset": 16,
        },
    }


# A reader's machine may set a text in another face of our list: DejaVu Sans and its twin Verdana, the widest of the usual
# ones, take up to a third more than ours. The only statement of it: what lays text out asks for `text_room`.
_FALLBACK_IS_WIDER = 4 / 3


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide *text* is in the face that pages and pictures bring along. [px]"""
    return face.width(text, size, bold=bold)


def text_room(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a place *text* needs, whatever face a reader's machine sets it in. [px]"""
    return text_width(text, size, bold=bold) * _FALLBACK_IS_WIDER


def wrapped(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """*text* in lines that *width* has room for; a single word that is wider stays whole. [px]"""
    lines: list[str] = []
    for word in _words(text, width, size, bold=bold):
        if lines and text_room(f"{lines[-1]} {word}", size, bold=bold) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _words(text: str, width: float, size: float, *, bold: bool) -> Iterator[str]:
    """What a line may end behind: a number and its unit are one word, where *width* has room for both. [px]"""
    for tied in wording.unbroken(" ".join(text.split())).split(" "):
        words = tied.split()
        together = " ".join(words)
        yield from [together] if len(words) > 1 and text_room(together, size, bold=bold) <= width else words


def balanced(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """*text* in as few lines as `wrapped` needs, of about the same length: no word left alone at the end. [px]"""
    lines = wrapped(text, width, size, bold=bold)
    while len(lines) > 1:
        widest = max(text_room(line, size, bold=bold) for line in lines)
        narrower = wrapped(text, widest - 1, size, bold=bold)
        if len(narrower) > len(lines) or narrower == lines:
            break
        lines = narrower
    return lines


def held(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """`balanced`, with words that are wider than *width* cut into pieces that are not, so that no line is. [px]"""
    words: list[str] = []
    for word in _words(text, width, size, bold=bold):
        if " " in word:
            words.append(word)
            continue
        piece = ""
        for letter in word:
            if piece and text_room(piece + letter, size, bold=bold) > width:
                words.append(piece)
                piece = ""
            piece += letter
        words.append(piece)
    return balanced(" ".join(words), width, size, bold=bold)

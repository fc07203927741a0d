"""How our charts look: paper and ink, few muted hues given by position, and two layouts.

Hues come from published colour-blind-safe sets: Paul Tol's "muted" scheme, with two reds of his contrast schemes (Colour
Schemes, SRON technical note SRON/EPS/TN/09-002), and the black of Okabe & Ito (2002). On either ground only members with a contrast of 3:1 are
used (WCAG 2.2, 1.4.11), so a position has its own member of the scheme by day and by night.
Every series also has a dash and a mark shape of its own and a label at its line: hue never carries it alone.

A colour is a *role*: specifications hold its light value, pages the custom property of the same name
(site_templates/css/tokens.css holds both values of each; a test compares).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

MAX_SERIES = 6


@dataclass(frozen=True, slots=True)
class Role:
    """A colour by what it is for: its custom property, its value on paper and on the dark ground."""

    name: str
    light: str
    dark: str


GROUND = Role("--ground", "#FAF7F0", "#1A1815")
SHADE = Role("--shade", "#F1EADB", "#2B2720")
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

# Metric twins of the face that the renderer measures text with (converting.py). A machine may have none of them.
FONT = "'Bench Sans', 'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', 'Nimbus Sans', sans-serif"


@dataclass(frozen=True, slots=True)
class Layout:
    """Sizes of one chart in px.

    plot_width, plot_height  the plot itself; a chart may grow in height for many labels
    label_width              the column right of the plot for labels at line ends
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


# The narrow one is 340 px wide in all, so that its text is as large on a 360 px phone as it is here.
WIDE = Layout(plot_width=464, plot_height=300, label_width=156, text=13, note=12)
NARROW = Layout(plot_width=190, plot_height=270, label_width=88, text=12, note=11)


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


# Advance widths in thousandths of the size of DejaVu Sans 2.37 (its table hmtx), which with its twin Verdana is the widest
# of the faces that a browser takes for our list: a text is never wider on a reader's machine than it was planned.
_REGULAR = {
    275: "'",
    278: "ijl",
    295: "IJ",
    318: " ,.·’",
    337: "/:;\\|",
    352: "f",
    361: "-",
    390: "()[]",
    392: "t",
    401: "!",
    411: "r",
    460: '"',
    500: "*_`–",
    518: "“”",
    521: "s",
    525: "z",
    531: "?",
    550: "c",
    557: "L",
    575: "F",
    579: "k",
    592: "vxy",
    603: "P",
    611: "TY",
    612: "oö",
    613: "aä",
    615: "eé",
    632: "E",
    634: "hnuü",
    635: "Sbdgpq",
    636: "$0123456789{}",
    656: "K",
    684: "AV",
    685: "XZ",
    686: "B",
    695: "R",
    698: "C",
    732: "U",
    748: "N",
    752: "H",
    770: "D",
    775: "G",
    780: "&",
    787: "OQ",
    818: "w",
    838: "#+<=>^~×≥→−",
    863: "M",
    950: "%",
    974: "m",
    989: "W",
    1000: "@—…",
}
_BOLD = {
    306: "'",
    343: "ijl",
    348: " ",
    365: "/\\|",
    372: "IJ",
    380: ",.·’",
    400: ":;",
    415: "-",
    435: "f",
    456: "!",
    457: "()[]",
    478: "t",
    493: "r",
    500: "_`–",
    521: '"',
    523: "*",
    580: "?",
    582: "z",
    593: "c",
    595: "s",
    637: "L",
    645: "x",
    652: "vy",
    657: "“”",
    665: "k",
    675: "aä",
    678: "eé",
    682: "T",
    683: "EF",
    687: "oö",
    696: "$0123456789",
    712: "hnu{}ü",
    716: "bdgpq",
    720: "S",
    724: "Y",
    725: "Z",
    733: "P",
    734: "C",
    762: "B",
    770: "R",
    771: "X",
    774: "AV",
    775: "K",
    812: "U",
    821: "G",
    830: "D",
    837: "HN",
    838: "#+<=>^~×≥→−",
    850: "OQ",
    872: "&",
    924: "w",
    995: "M",
    1000: "@—…",
    1002: "%",
    1042: "m",
    1103: "W",
}
_ADVANCES = [{letter: width for width, letters in face.items() for letter in letters} for face in (_REGULAR, _BOLD)]
_OTHER_LETTER = 840  # accents, signs and whatever else: rather too wide


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide *text* is set at most, whatever face a reader's machine has. [px]"""
    advances = _ADVANCES[bold]
    return sum(advances.get(letter, _OTHER_LETTER) for letter in text) * size / 1000


def wrapped(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """*text* in lines no wider than *width*; a single word that is wider stays whole. [px]"""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size, bold=bold) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def balanced(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """*text* in as few lines as `wrapped` needs, of about the same length: no word left alone at the end. [px]"""
    lines = wrapped(text, width, size, bold=bold)
    while len(lines) > 1:
        widest = max(text_width(line, size, bold=bold) for line in lines)
        narrower = wrapped(text, widest - 1, size, bold=bold)
        if len(narrower) > len(lines) or narrower == lines:
            break
        lines = narrower
    return lines


def held(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """`balanced`, with words that are wider than *width* cut into pieces that are not, so that no line is. [px]"""
    words: list[str] = []
    for word in text.split():
        piece = ""
        for letter in word:
            if piece and text_width(piece + letter, size, bold=bold) > width:
                words.append(piece)
                piece = ""
            piece += letter
        words.append(piece)
    return balanced(" ".join(words), width, size, bold=bold)

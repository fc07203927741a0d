"""A chart as a file that stands alone: to be shown elsewhere, with its question above and where it comes from below.

Made from what was drawn for the page, so nothing is drawn twice: the wide layout, its colours by role made plain.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

from builder.charts.figures import Figure
from builder.charts.linking import without_links
from builder.charts.svg_tidying import SVG, describe
from builder.charts.theme import FONT, GROUND, TEXT, TEXT_MUTED, balanced, wrapped

MARGIN = 16  # [px]
TITLE, NOTE = 17, 12  # sizes of text [px]
LEADING = 5

_ASKED = re.compile(r"var\(--[\w-]+, ([^()]*)\)")


def chart_file(figure: Figure, drawn: str, *, source: str) -> str:
    """The figure as an SVG file in plain colours on its light ground.

    drawn   what `rendering.render_svg` gave for it
    source  who publishes, where, and under which licence
    """
    plain = _ASKED.sub(r"\1", drawn)
    chart = ElementTree.fromstring(f"<both>{plain}</both>").find(f"{{{SVG}}}svg")
    assert chart is not None, figure.key
    wide, high = (float(side) for side in chart.attrib["viewBox"].split()[2:])
    title = balanced(figure.title, wide, TITLE, bold=True)
    notes = [line for text in (*figure.notes, source) for line in wrapped(text, wide, NOTE)]
    below = MARGIN + len(title) * (TITLE + LEADING) + LEADING + high + LEADING
    size = wide + 2 * MARGIN, below + len(notes) * (NOTE + LEADING) + MARGIN
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": SVG,
            "width": f"{size[0]:g}",
            "height": f"{size[1]:g}",
            "viewBox": f"0 0 {size[0]:g} {size[1]:g}",
            "font-family": FONT,
        },
    )
    describe(root, title=figure.title, spoken=figure.spoken)
    ElementTree.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": GROUND.light})
    for row, text in enumerate(title, start=1):
        _text(root, text, MARGIN + row * (TITLE + LEADING) - LEADING, TITLE, TEXT.light, bold=True)
    root.append(_placed(chart, MARGIN + len(title) * (TITLE + LEADING) + LEADING, wide, high))
    for row, text in enumerate(notes, start=1):
        _text(root, text, below + row * (NOTE + LEADING) - LEADING, NOTE, TEXT_MUTED.light)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _placed(chart: ElementTree.Element, top: float, wide: float, high: float) -> ElementTree.Element:
    """The chart inside of the file: its words are the file's now, and it leads nowhere, for it may lie anywhere."""
    without_links(chart)
    for element in chart.iter():
        element.tag = element.tag.removeprefix(f"{{{SVG}}}")
    kept = {name: value for name, value in chart.attrib.items() if name in ("viewBox", "font-family")}
    inner = ElementTree.Element(
        "svg", {"x": f"{MARGIN}", "y": f"{top:g}", "width": f"{wide:g}", "height": f"{high:g}", **kept}
    )
    inner.extend(child for child in chart if child.tag not in ("title", "desc"))
    return inner


def _text(root: ElementTree.Element, text: str, y: float, size: int, colour: str, *, bold: bool = False) -> None:
    look = {"x": f"{MARGIN}", "y": f"{y:g}", "font-size": str(size), "fill": colour}
    element = ElementTree.SubElement(root, "text", look | ({"font-weight": "bold"} if bold else {}))
    element.text = text

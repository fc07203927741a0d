"""From the renderer's SVG to ours: short, free of chance, and with colours by role.

The renderer writes numbers to sixteen digits, names ids by a counter of its process, repeats every attribute on
every mark and drops the description. Nothing here moves a mark by more than a hundredth of a px.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Literal
from xml.etree import ElementTree

from builder.charts.theme import FONT, ROLES, Role, text_width

Element = ElementTree.Element
Ground = Literal["light", "dark"]
LayoutName = Literal["wide", "narrow"]

SVG = "http://www.w3.org/2000/svg"

_LONG_NUMBER = re.compile(r"-?\d*\.\d+(?:e-?\d+)?|-?\d+e-\d+")
_NUMERIC = {"d", "transform", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "width", "height", "viewBox"}
_COLOURED = ("fill", "stroke", "stop-color")
_REFERENCE = re.compile(r"#([\w.-]+)")

_TEXT_LOOK = ("font-size", "font-weight", "text-anchor")
_ANCHORED = {"start": 0.0, "middle": 0.5, "end": 1.0}  # share of a text that lies before its place
_MOVED = re.compile(r"translate\((-?[\d.]+)")

# How much larger than it was laid out a chart may be drawn.
_GROWTH: dict[LayoutName, float] = {"wide": 1.0, "narrow": 1.25}

# Frames around every group that draw nothing in our charts, which have no outline around the plot.
_FRAMES = ("background", "foreground")

# Of use only to the renderer's own page, said once on the outermost element instead, or what holds anyway.
_DROPPED = {"class", "role", "font-family", "pointer-events", "stroke-miterlimit", "version"}
_DEFAULTS = {
    "opacity": "1",
    "fill-opacity": "1",
    "stroke-opacity": "1",
    "stroke-dasharray": "1,0",
    "stroke-width": "1",
    "text-anchor": "start",
    "transform": "translate(0,0)",
}

# Inherited properties (SVG 1.1, appendix N): a group may say them for all its marks.
_INHERITED = (
    "fill",
    "fill-opacity",
    "font-size",
    "font-weight",
    "stroke",
    "stroke-dasharray",
    "stroke-linecap",
    "stroke-opacity",
    "stroke-width",
    "text-anchor",
)


def page_svg(drawing: str, *, ids: str, title: str, spoken: str, layout: LayoutName, display: str) -> str:
    """One layout of a chart as an element for a page: colours by custom property, as wide as its column allows.

    drawing  what the renderer wrote
    ids      start of every id in it, unique on the page
    title    its question
    spoken   its text alternative
    layout   named in its class
    display  value of the attribute: may ask a custom property
    """
    root = _tidied(drawing, ids=ids, colour=lambda role: f"var({role.name}, {role.light})")
    _make_room(root)
    # Grows with the reader's text size; between phone and page the narrow one is drawn larger, and the sheet keeps
    # it inside of its column. Attributes, no style: the pages' Content-Security-Policy forbids inline styles.
    rem = int(root.attrib["width"]) / 16 * _GROWTH[layout]
    root.set("width", f"{rem:g}rem")
    del root.attrib["height"]
    root.set("class", f"chart chart-{layout}")
    root.set("display", display)
    root.set("font-family", f"var(--font-figures, {FONT})")
    describe(root, title=title, spoken=spoken)
    return ElementTree.tostring(root, encoding="unicode")


def file_svg(drawing: str, *, ids: str, title: str, spoken: str, ground: Ground) -> str:
    """A chart as a file of its own, in plain colours."""
    root = plain_svg(drawing, ids=ids, ground=ground)
    _make_room(root)
    describe(root, title=title, spoken=spoken)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def plain_svg(drawing: str, *, ids: str, ground: Ground) -> Element:
    """A chart as an element in plain colours, for a file or a larger picture."""
    root = _tidied(drawing, ids=ids, colour=lambda role: role.light if ground == "light" else role.dark)
    root.set("font-family", FONT)
    return root


def _make_room(root: Element) -> None:
    """Widen the picture where a text would leave it."""
    left, top, width, height = (float(side) for side in root.attrib["viewBox"].split())
    spans = [span for child in root for span in _text_spans(child, 0.0, {})]
    start = math.floor(min([left, *(low for low, _ in spans)]))
    end = math.ceil(max([left + width, *(high for _, high in spans)]))
    root.set("viewBox", f"{start} {top:g} {end - start} {height:g}")
    root.set("width", str(end - start))
    for ground in root.findall("rect"):  # what lies under everything goes on as far
        if float(ground.get("width", 0)) == width:
            ground.attrib |= {"x": str(start), "width": str(end - start)}


def _text_spans(element: Element, x: float, inherited: Mapping[str, str]) -> Iterator[tuple[float, float]]:
    """Left and right end of every upright text from an element inwards, *x* px right of the picture's origin. [px]"""
    look = {**inherited, **{name: element.attrib[name] for name in _TEXT_LOOK if name in element.attrib}}
    moved = element.get("transform", "")
    if "rotate" in moved:
        return
    x += sum(float(found[1]) for found in _MOVED.finditer(moved))
    if element.tag == "text":
        size, bold = float(look.get("font-size", "11").removesuffix("px")), look.get("font-weight") == "bold"
        lines = [line.text or "" for line in element.iter("tspan")] or [element.text or ""]
        wide = max(text_width(line, size, bold=bold) for line in lines)
        start = x + float(element.get("x", 0)) - wide * _ANCHORED[look.get("text-anchor", "start")]
        yield start, start + wide
    for child in element:
        yield from _text_spans(child, x, look)


def describe(root: Element, *, title: str, spoken: str) -> None:
    """Give a picture its question and its words, for those who do not see it."""
    root.set("role", "img")
    root.set("aria-label", spoken)
    for place, (tag, text) in enumerate((("title", title), ("desc", spoken))):
        element = ElementTree.Element(tag)
        element.text = text
        root.insert(place, element)


def _tidied(drawing: str, *, ids: str, colour: Callable[[Role], str]) -> Element:
    root = ElementTree.fromstring(drawing)
    _prune(root)
    colours = {role.light.lower(): colour(role) for role in ROLES}
    for element in root.iter():
        element.tag = element.tag.removeprefix(f"{{{SVG}}}")
        for name, value in list(element.attrib.items()):
            if name in _DROPPED or name.startswith("aria-") or _DEFAULTS.get(name) == value:
                del element.attrib[name]
            elif name in _NUMERIC:
                element.set(name, _LONG_NUMBER.sub(_shortened, value))
            elif name in _COLOURED:
                element.set(name, colours.get(value.lower(), value))
    _hoist(root)
    _unwrap(root)
    _renumber(root, ids)
    root.attrib = {"xmlns": SVG, **root.attrib}
    return root


def _shortened(number: re.Match[str]) -> str:
    """A number with at most two decimals and no idle zeros."""
    text = f"{float(number[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _prune(parent: Element) -> None:
    """Take out frames and groups that hold nothing."""
    for child in list(parent):
        _prune(child)
        if child.get("class") in _FRAMES or (child.tag == f"{{{SVG}}}g" and not len(child)):
            parent.remove(child)


def _hoist(group: Element) -> None:
    """Say on a group what all its children say alike."""
    for child in group:
        _hoist(child)
    if group.tag != "g":
        return
    for name in _INHERITED:
        values = {child.get(name) for child in group}
        if len(values) == 1 and None not in values:
            group.set(name, values.pop() or "")
            for child in group:
                del child.attrib[name]


def _unwrap(parent: Element) -> None:
    """Put the children of a group that says nothing in its place."""
    for child in list(parent):
        _unwrap(child)
        if child.tag == "g" and not child.attrib:
            place = list(parent).index(child)
            parent.remove(child)
            for grandchild in reversed(child):
                parent.insert(place, grandchild)


def _renumber(root: Element, ids: str) -> None:
    """Name ids by their order in this drawing, not by how many the process has drawn before."""
    names = {old: f"{ids}-{n}" for n, old in enumerate(e.attrib["id"] for e in root.iter() if "id" in e.attrib)}
    for element in root.iter():
        for name, value in element.attrib.items():
            if name == "id":
                element.set(name, names[value])
            elif "#" in value and names:
                element.set(name, _REFERENCE.sub(lambda m: f"#{names.get(m[1], m[1])}", value))

"""Links in a drawing: one a device, around all that leads there, from the page that the drawing stands on.

Renderers wrap each mark in a link of its own. A reader who goes from link to link would meet a name in as many pieces, so
the marks that lead to one place are gathered in one link, which is called what its texts say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from xml.etree import ElementTree

Element = ElementTree.Element

_SVG = "http://www.w3.org/2000/svg"
_HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
# What a mark inherits from the groups it is taken out of (SVG 1.1, appendix N).
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


def with_links(drawn: str, href: Callable[[str], str]) -> str:
    """Pictures for a page, each link in them gathered; one without links stays as it is.

    drawn  one or several svg elements, as `rendering.render_svg` gives them
    href   from a link of the specification to the one that leads there from the page
    """
    if "<a " not in drawn:
        return drawn
    ElementTree.register_namespace("", _SVG)
    pictures = ElementTree.fromstring(f"<both>{drawn}</both>")
    for picture in pictures:
        _gather(picture, href)
    return "".join(ElementTree.tostring(picture, encoding="unicode") for picture in pictures)


def _gather(picture: Element, href: Callable[[str], str]) -> None:
    links: dict[str, Element] = {}
    for parent, link, look in list(_links(picture, {})):
        target = _target(link)
        if target not in links:
            links[target] = ElementTree.Element(f"{{{_SVG}}}a", {"href": href(target)})
        for mark in link:
            mark.attrib |= {name: look[name] for name in _INHERITED if name in look and name not in mark.attrib}
            if moved := " ".join(filter(None, (look.get("transform", ""), mark.get("transform", "")))):
                mark.set("transform", moved)
            mark.tail = " "  # so that two texts are two words
            links[target].append(mark)
        parent.remove(link)
    for link in links.values():
        link.set("aria-label", " ".join(mark.text or "" for mark in link if mark.text))
        picture.append(link)
    if links:
        picture.set("role", "group")  # a picture's parts are hidden from those who hear it, a group's are not


def _links(parent: Element, look: dict[str, str]) -> Iterator[tuple[Element, Element, dict[str, str]]]:
    """Every link below an element: its parent, itself, and what the marks in it inherit."""
    look = look | {name: value for name in _INHERITED if (value := parent.get(name))}
    if parent.get("viewBox") is None and (moved := parent.get("transform")):
        look["transform"] = f"{look.get('transform', '')} {moved}".strip()
    for child in parent:
        if _target(child):
            own = {name: value for name in _INHERITED if (value := child.get(name))}
            yield parent, child, look | own
        else:
            yield from _links(child, look)


def _target(element: Element) -> str:
    return next((element.attrib[name] for name in _HREFS if name in element.attrib), "")

"""Figures to SVG: for a page, and as a file that stands alone. The same bytes in every process and on every machine."""

from __future__ import annotations

import base64
import re
import zlib
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

import orjson

from builder.charts import face
from builder.charts.drawer import Drawing, draw
from builder.charts.figures import Figure, bare
from builder.charts.pieces import Paint, number
from builder.charts.theme import FONT, GROUND, ROLES, TEXT, TEXT_MUTED, Role, balanced, wrapped

Ground = Literal["light", "dark"]
LayoutName = Literal["wide", "narrow"]

SVG = "http://www.w3.org/2000/svg"
MARGIN = 16  # of a file [px]
TITLE, NOTE = 17, 12  # sizes of text [px]
LEADING = 5

# How much larger than it was laid out a chart may be drawn.
_GROWTH: dict[LayoutName, float] = {"wide": 1.0, "narrow": 1.25}
_LINK = re.compile(r"</?a\b[^>]*>")
_TOKEN = re.compile(r'"var\((--[\w-]+), #\w+\)"')  # a colour as `by_token` writes it
_COLOUR = re.compile(rb'"(#[0-9A-Fa-f]{6})"')  # a text in JSON that is nothing else
_FITS = "svg{max-width:100%;height:auto}"  # a frame that is narrower than the picture
_BY_TOKEN = {role.light.lower(): f"var({role.name}, {role.light})" for role in ROLES}
_ROLES = {role.light.lower(): role for role in ROLES}
_BY_NAME = {role.name: role for role in ROLES}


def drawn_wide(figure: Figure) -> Drawing:
    """The figure as both its page and its file show it, without title, notes and ground, in custom properties."""
    return draw(bare(figure.spec), by_token)


def render_svg(figure: Figure, drawing: Drawing | None = None) -> str:
    """The figure for a page: one or two svg elements, of which the page's tokens show the one that fits.

    Without title, notes and ground, which the page has as text. Colours are custom properties with the light
    value to fall back on.

    drawing  `drawn_wide`, where it was drawn already
    """
    drawing = drawing or drawn_wide(figure)
    if figure.narrow is None:
        return _on_page(figure, drawing, "wide", "block")
    narrow = draw(bare(figure.narrow), by_token)
    # Without the page's tokens, in a feed reader say, the wide one shows.
    return _on_page(figure, drawing, "wide", "var(--chart-wide, block)") + _on_page(
        figure, narrow, "narrow", "var(--chart-narrow, none)"
    )


def render_file(
    figure: Figure,
    drawing: Drawing | None = None,
    *,
    source: str = "",
    ground: Ground = "light",
    home: tuple[str, str] | None = None,
) -> str:
    """The figure as an SVG file in plain colours: its question above, its notes below, with the face it is set in.

    Whole by itself, as a picture and in a frame of another page.

    drawing  `drawn_wide`, where it was drawn already
    source   how new it is, who publishes, where, and under which licence
    home     the page it stands on: what to call it, and the link to it, the picture's last line
    """
    drawing = drawing or drawn_wide(figure)
    wide = drawing.width
    title = balanced(figure.title, wide, TITLE, bold=True)
    notes = [line for text in (*figure.notes, source) for line in wrapped(text, wide, NOTE)]
    top = MARGIN + len(title) * (TITLE + LEADING) + LEADING
    below = top + drawing.height + LEADING
    parts = [
        text_line(text, MARGIN, MARGIN + row * (TITLE + LEADING) - LEADING, TITLE, coloured(TEXT, ground), bold=True)
        for row, text in enumerate(title, start=1)
    ]
    parts.append(
        _LINK.sub("", _in_plain(placed(drawing, MARGIN, top), ground))
    )  # the file may lie anywhere, so it leads nowhere
    parts += [
        text_line(text, MARGIN, below + row * (NOTE + LEADING) - LEADING, NOTE, coloured(TEXT_MUTED, ground))
        for row, text in enumerate(notes, start=1)
    ]
    back = wrapped(home[0], wide, NOTE) if home else []
    if home:
        first = below + len(notes) * (NOTE + LEADING)
        lines = "".join(
            text_line(text, MARGIN, first + row * (NOTE + LEADING) - LEADING, NOTE, coloured(TEXT, ground))
            for row, text in enumerate(back, start=1)
        )
        # Out of the frame that the picture may stand in. What is spoken of it leaves the link to be followed.
        parts = [
            f'<g role="img" aria-label={_quoted(figure.spoken)}>',
            *parts,
            "</g>",
            f'<a href={_quoted(home[1])} target="_top" text-decoration="underline">{lines}</a>',
        ]
    height = below + len([*notes, *back]) * (NOTE + LEADING) + MARGIN
    inside, size = "".join(parts), (wide + 2 * MARGIN, height)
    rules = _FITS + face.rules_for(inside)
    return whole_picture(
        figure, inside, size=size, shown=size, ground=coloured(GROUND, ground), style=rules, linked=home is not None
    )


def whole_picture(
    figure: Figure,
    inside: str,
    *,
    size: tuple[float, float],
    shown: tuple[float, float],
    ground: str,
    style: str = "",
    linked: bool = False,
) -> str:
    """A picture that stands alone.

    size    of the picture, px
    shown   width and height in units of what is inside
    ground  a colour; "" for none
    linked  whether a link is inside, which an image would hide from those who hear it
    """
    laid = f'<rect width="100%" height="100%" fill="{ground}"/>' if ground else ""
    rules = f"<style>{style}</style>" if style else ""
    return (
        f'<svg xmlns="{SVG}" width="{number(size[0])}" height="{number(size[1])}"'
        f' viewBox="0 0 {number(shown[0])} {number(shown[1])}" font-family="{FONT}"{_described(figure, linked=linked)}'
        f"{rules}{laid}{inside}</svg>\n"
    )


def placed(drawing: Drawing, x: float, y: float) -> str:
    """A drawing as a group, its upper left corner at a place."""
    # Vega's limit of pointed corners, which is not SVG's own.
    move = f"translate({number(x + drawing.left)},{number(y + drawing.top)})"
    return f'<g transform="{move}" fill="none" stroke-miterlimit="10">{drawing.body}</g>'


def text_line(text: str, x: float, y: float, size: int, colour: str, *, bold: bool = False) -> str:
    """A line of text beside a drawing."""
    weight = ' font-weight="bold"' if bold else ""
    place = f'x="{number(x)}" y="{number(y)}"'
    return f'<text {place} font-size="{size}px" fill="{colour}"{weight}>{escape(text)}</text>'


def coloured(role: Role, ground: Ground) -> str:
    """The colour of a role on a ground."""
    return role.light if ground == "light" else role.dark


def by_token(colour: str) -> str:
    """A colour of a specification as the custom property of its role."""
    return _BY_TOKEN.get(colour.lower(), colour)


def painted(ground: Ground) -> Paint:
    """From a colour of a specification to what it is on a ground, in plain."""

    def paint(colour: str) -> str:
        role = _ROLES.get(colour.lower())
        return colour if role is None else coloured(role, ground)

    return paint


def packed_to_zoom(figure: Figure) -> str:
    """`to_zoom` packed by zlib to a tenth, as base64: charts of several pages lie in one file."""
    return base64.b64encode(zlib.compress(to_zoom(figure))).decode()


def to_zoom(figure: Figure) -> bytes:
    """The specifications, a list in JSON, from which a page's scripts draw the figure to zoom: the wide one, and the
    narrow one where it has one. As `bare`, in the page's own colours, whatever these are by day, by night or by a
    reader's choice.
    """
    specs = [bare(spec) for spec in (figure.spec, figure.narrow) if spec is not None]
    return _COLOUR.sub(_token, orjson.dumps(specs, option=orjson.OPT_SORT_KEYS))


def _token(colour: re.Match[bytes]) -> bytes:
    role = _ROLES.get(colour[1].decode().lower())
    return colour[0] if role is None else f'"var({role.name})"'.encode()


def _in_plain(drawn: str, ground: Ground) -> str:
    """What was drawn in custom properties, in the colours of a ground."""
    return _TOKEN.sub(lambda token: f'"{coloured(_BY_NAME[token[1]], ground)}"', drawn)


def _on_page(figure: Figure, drawing: Drawing, layout: LayoutName, display: str) -> str:
    # Grows with the reader's text size; between phone and page the narrow one is drawn larger, and the sheet keeps
    # it inside of its column. Attributes, no style: the pages' Content-Security-Policy forbids inline styles.
    rem = drawing.width / 16 * _GROWTH[layout]
    return (
        f'<svg xmlns="{SVG}" viewBox="0 0 {drawing.width} {drawing.height}" width="{rem:g}rem"'
        f' class="chart chart-{layout}" display="{display}" font-family="var(--font-figures, sans-serif)"'
        f"{_described(figure)}{placed(drawing, 0, 0)}</svg>"
    )


def _described(figure: Figure, *, linked: bool = False) -> str:
    """The end of an opening tag, with the question of the picture and its words for those who do not see it."""
    role, label = ("group", figure.title) if linked else ("img", figure.spoken)
    return (
        f' role="{role}" aria-label={_quoted(label)}>'
        f"<title>{escape(figure.title)}</title><desc>{escape(figure.spoken)}</desc>"
    )


def _quoted(text: str) -> str:
    return quoteattr(text, {'"': "&quot;"})

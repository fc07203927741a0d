"""The picture that a link to a review brings along elsewhere: its title and devices on the site's own paper.

Drawn with the face that Pillow carries, so that the bytes are the same on every machine with the same Pillow.
"""

from __future__ import annotations

import io

from PIL import Image, ImageDraw, ImageFont
from PIL.ImageFont import FreeTypeFont

from builder import wording
from builder.bench.naming import device_name
from builder.pages.contents import Results, SiteContext
from catalog.records import Article

SIZE = (1200, 630)  # common practice for linked previews
MARGIN = 80
# Ground, ink and muted ink of the light pages (site_templates/css/tokens.css); a picture cannot ask for them.
GROUND, INK, MUTED = "#FAF7F0", "#26221C", "#5F574B"
TITLE_SIZES = (76, 64, 54, 46, 40)
MOST_TITLE_LINES = 4
SMALL = 36


def preview_image(results: Results, site: SiteContext, article: Article) -> bytes:
    """A PNG of 1200 × 630 points."""
    picture = Image.new("RGB", SIZE, GROUND)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((MARGIN, MARGIN, SIZE[0] - MARGIN, MARGIN + 5), fill=INK)
    draw.text((MARGIN, MARGIN + 26), _cut(site.title, _face(SMALL)), font=_face(SMALL), fill=MUTED)
    face, lines = _title(article.title)
    step = round(face.size * 1.2)
    for place, line in enumerate(lines):
        draw.text((MARGIN, MARGIN + 120 + place * step), line, font=face, fill=INK)
    about = wording.listing([device_name(results.bench, d) for d in article.devices if d in results.bench.devices])
    foot = " · ".join(part for part in (about, wording.date(article.published_utc)) if part)
    draw.text((MARGIN, SIZE[1] - MARGIN - SMALL), _cut(foot, _face(SMALL)), font=_face(SMALL), fill=MUTED)
    file = io.BytesIO()
    picture.save(file, format="PNG", optimize=True)
    return file.getvalue()


def _title(text: str) -> tuple[FreeTypeFont, list[str]]:
    """The largest face in which the title fits, and its lines; in the smallest it is cut."""
    for size in TITLE_SIZES:
        face = _face(size)
        lines = _wrapped(text, face)
        if len(lines) <= MOST_TITLE_LINES and all(_fits(line, face) for line in lines):
            return face, lines
    return face, [_cut(line, face) for line in lines[:MOST_TITLE_LINES]]


def _wrapped(text: str, face: FreeTypeFont) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        if lines and _fits(f"{lines[-1]} {word}", face):
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _cut(text: str, face: FreeTypeFont) -> str:
    """The text, cut at a word with a mark where it is too long."""
    while not _fits(text, face):
        text = (text.removesuffix(" …").rpartition(" ")[0] or text.removesuffix(" …")[:-2]) + " …"
    return text


def _fits(text: str, face: FreeTypeFont) -> bool:
    return face.getlength(text) <= SIZE[0] - 2 * MARGIN


def _face(size: int) -> FreeTypeFont:
    face = ImageFont.load_default(size)
    assert isinstance(face, FreeTypeFont)
    return face

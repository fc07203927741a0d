"""From a view model to HTML: Jinja2 with escaping on, and a refusal in plain words for a template that is wrong."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, TemplateError, TemplateNotFound
from jinja2.exceptions import TemplateSyntaxError
from markupsafe import Markup

from builder import wording
from builder.pages.parts.blocks import Frame, Link, Page
from builder.pages.parts.table_rows import rows_html
from catalog.errors import BuildRefused

FEWEST_PLACES = 3  # below that a list of contents is longer than the way it saves

_NOT_OF_PAGES = ("desk/", "vendor/")

# Second headings with a place to go to, as our templates write them.
_HEADING = re.compile(r'<h2 id="([^"]+)"[^>]*>(.*?)</h2>', re.DOTALL)


def page_templates(folder: Path) -> Environment:
    """The templates of *folder*: everything is escaped, and an undefined name is an error."""
    templates = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    templates.filters |= {"headings": headings, "rows": rows_html}
    return templates


def compile_all(templates: Environment) -> None:
    """Have the templates of all pages ready; what is wrong with one is said when a page is made of it."""
    for name in templates.list_templates(extensions=["html"]):
        if not name.startswith(_NOT_OF_PAGES):
            with suppress(TemplateError):
                templates.get_template(name)


def headings(body: str) -> tuple[Link, ...]:
    """The list of contents of a page: its second headings that can be gone to, none where there are fewer than three.

    Read from what is shown, so that no list can say otherwise.
    """
    places = [Link(Markup(text).striptags(), f"#{Markup(key).unescape()}") for key, text in _HEADING.findall(str(body))]
    return tuple(places) if len(places) >= FEWEST_PLACES else ()


def render(templates: Environment, page: Page, frame: Frame, drawn: Mapping[str, str]) -> str:
    """The HTML of a page.

    drawn   figure key -> its SVG, for every drawing of the page
    Raises  BuildRefused: a template is missing, broken, or asks for something the page does not hold.
    """
    name = f"pages/{page.template}.html"
    try:
        return wording.unbroken(
            templates.get_template(name).render(
                page=page, frame=frame, drawn={key: Markup(svg) for key, svg in drawn.items()}
            )
        )
    except TemplateNotFound as failure:
        raise BuildRefused(f"The template {failure.name} is missing, so {page.address} cannot be written.") from failure
    except TemplateSyntaxError as failure:
        raise BuildRefused(
            f"The template {failure.name} is broken at line {failure.lineno}: {failure.message}"
        ) from failure
    except TemplateError as failure:
        raise BuildRefused(f"The template {name} cannot be filled for {page.address}: {failure.message}") from failure

"""The site's appearance: one style sheet and one mark, named by their content so that a browser may keep them."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from builder import addresses
from builder.charts import face
from catalog.errors import BuildRefused

# Colours and sizes come first, what paper needs comes last; the others do not depend on each other's order.
FIRST, LAST = "tokens.css", "print.css"
ICON = "mark.svg"
LICENCES = "LICENSES.txt"  # beside each bundle in site_templates/vendor

# Comments and indents help readers of the sources; a phone need not load them.
_FOR_US = re.compile(r"/\*.*?\*/\s*|^ +", re.DOTALL | re.MULTILINE)
_AIR = re.compile(r"\s*([{};,])\s*")  # around signs that need none


@dataclass(frozen=True, slots=True)
class Asset:
    """One file: its address and its bytes."""

    address: str
    content: bytes


def style_sheet(templates: Path) -> Asset:
    """The face of figures and all style sheets as one. Raises BuildRefused where there are none."""
    sheets = {path.name: path for path in sorted((templates / "css").glob("*.css"))}
    if FIRST not in sheets:
        raise BuildRefused(f"The style sheet {FIRST} is missing from the templates, so no page can be written.")
    order = [FIRST, *(name for name in sheets if name not in (FIRST, LAST)), *([LAST] if LAST in sheets else [])]
    text = face.rules(templates) + "\n".join(
        _AIR.sub(r"\1", _FOR_US.sub("", sheets[name].read_text(encoding="utf-8"))).strip() + "\n" for name in order
    )
    return named_by_content("site", ".css", text.encode())


def libraries(templates: Path) -> list[Asset]:
    """Bundled libraries (site_templates/vendor), which pages load when a reader asks for what needs them.

    They keep their names, which hold their versions: our own script knows them by name. The licences of each
    go beside it, because they require that, and so does the licence of the face that the style sheet carries.
    Raises BuildRefused where one has none.
    """
    assets = [_licence_of_the_face(templates)]
    for script in sorted((templates / "vendor").glob("*/*.js")):
        licences = script.with_name(LICENCES)
        if not licences.is_file():
            raise BuildRefused(
                f"The licences of {script.name} are missing from the templates, so no site may hold it. "
                f"Put them beside it, as {LICENCES}."
            )
        assets.append(Asset(addresses.asset(script.name), script.read_bytes()))
        assets.append(Asset(addresses.asset(f"{script.stem}.{LICENCES}"), licences.read_bytes()))
    return assets


def _licence_of_the_face(templates: Path) -> Asset:
    licence = face.folder(templates) / face.LICENCE
    if not licence.is_file():
        raise BuildRefused(
            f"The licence of {face.FAMILY} is missing from the templates, so no site may hold it. "
            f"Put it beside the face, as {face.LICENCE}."
        )
    return Asset(addresses.asset(f"{face.FOLDER}.{face.LICENCE}"), licence.read_bytes())


def icon(templates: Path) -> Asset:
    """The site's mark. Raises BuildRefused where it is missing."""
    path = templates / ICON
    if not path.is_file():
        raise BuildRefused(f"The mark {ICON} is missing from the templates, so no page can be written.")
    return named_by_content("mark", ".svg", path.read_bytes())


def named_by_content(stem: str, suffix: str, content: bytes) -> Asset:
    """An asset whose name holds its content's hash."""
    digest = hashlib.sha256(content).hexdigest()[:12]
    return Asset(addresses.asset(f"{stem}.{digest}{suffix}"), content)

"""How much a site holds, page by page and file by file, so that a peer can be told to write as much."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

_CHART = re.compile(r'<svg [^>]*class="chart ')


@dataclass(frozen=True)
class PageSize:
    """One page.

    kind      the first folder of its address
    about     the second: a device, a pair of them, a group
    pictures  drawn charts; every chart is drawn wide and narrow, two pictures
    """

    address: str
    kind: str
    about: str
    tables: int
    rows: int
    pictures: int


@dataclass(frozen=True)
class Inventory:
    """What a site holds: its pages, and the names of its downloads."""

    pages: list[PageSize]
    downloads: list[str]

    def write(self, file: Path) -> Path:
        """Kept, so that a peer need not look at the whole site, which would be counted as its work."""
        file.write_text(json.dumps(asdict(self)), encoding="utf-8")
        return file


def inventory_of(place: Path) -> Inventory:
    """Of a site's folder, or of the file that was kept of one."""
    if place.is_dir():
        names = sorted(path.name for path in (place / "data").iterdir() if path.suffix != ".html")
        return Inventory(pages_of(place), names)
    kept = json.loads(place.read_text(encoding="utf-8"))
    return Inventory([PageSize(**page) for page in kept["pages"]], kept["downloads"])


def pages_of(site: Path) -> list[PageSize]:
    """Every page of a site, in the order of their addresses."""
    sizes = []
    for path in sorted(site.rglob("*.html")):
        address = path.relative_to(site).as_posix()
        folders = address.split("/")[:-1]
        text = path.read_text(encoding="utf-8")
        sizes.append(
            PageSize(
                address,
                folders[0] if folders else "",
                folders[1] if len(folders) > 1 else "",
                text.count("<table"),
                text.count("<tr"),
                len(_CHART.findall(text)),
            )
        )
    return sizes


def kinds_of(site: Path) -> Mapping[str, tuple[int, int]]:
    """Files and bytes of a site, by kind of file and the folder they lie in."""
    found: dict[str, tuple[int, int]] = {}
    for path in site.rglob("*"):
        if path.is_file():
            folders = path.relative_to(site).parts
            kind = f"{path.suffix.lstrip('.') or 'other'} in {folders[0] if len(folders) > 1 else 'the root'}"
            files, size = found.get(kind, (0, 0))
            found[kind] = files + 1, size + path.stat().st_size
    return dict(sorted(found.items(), key=lambda item: -item[1][1]))

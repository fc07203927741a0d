"""A fair peer of the build: the same catalogue to as many pages, by pandas, Altair and Jinja2.

What a practised user of pandas writes in some days. It reads the catalogue once, works in whole arrays, makes each row
of a table once, computes every ranking and all pairs, draws two pictures a chart as the site has, wide and narrow, and
writes as many pages, tables, rows and downloads as the site it is shown. It runs in one process.

    python tests/benchmarks/plain_site.py CATALOG SITE FOLDER --draw altair

--draw text  puts the pictures together as text instead, as who is tired of waiting would
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

NOT_DONE = (
    "embargoes and what they hide",
    "days, placement, spots and kits in an interval",
    "bounds and ceilings",
    "Holm",
    "refusals in words",
    "summaries apart from runs",
    "settings",
    "articles and their claims",
    "traces",
    "links and their check",
    "the data of chooser, my room and search but as one list a group",
    "layout of labels, dark mode, texts for screen readers",
    "phones: no page is cut or weighed",
    "a site kept whole while it is written",
    "anything kept for the next build",
)


def plain_site(catalog: Path, site: Path, folder: Path, *, draw: str) -> dict[str, dict[str, float]]:
    """Write it, and say how much of what, and how many seconds of processor time each part took."""
    from plain.arrays import figures
    from plain.drawings import by_altair, by_text
    from plain.inventory import inventory_of
    from plain.pages import Pages, write_downloads

    wanted_site = inventory_of(site)
    sizes, names = wanted_site.pages, wanted_site.downloads
    parts = {"start": time.process_time()}
    worked_out = figures(catalog)
    parts["reading, rankings and pairs"] = time.process_time()
    pages = Pages(worked_out, folder, by_altair if draw == "altair" else by_text)
    parts["making rows"] = time.process_time()
    for size in sizes:
        pages.write(size)
    parts["pages and pictures"] = time.process_time()
    downloads = write_downloads(worked_out.tables, catalog, folder / "data", names)
    parts["writing downloads"] = time.process_time()
    before, took = 0.0, {}
    for part, until in parts.items():
        took[part], before = round(until - before, 2), until
    wanted = {
        "pages": len(sizes),
        "tables": sum(size.tables for size in sizes),
        "rows": sum(size.rows for size in sizes),
        "pictures": sum(size.pictures for size in sizes),
    }
    for what in ("pages", "tables", "pictures"):
        if pages.written[what] < wanted[what]:
            raise RuntimeError(f"the peer wrote {pages.written[what]} of {wanted[what]} {what}, so it is no peer")
    wrote = {f"of {wanted[what]:,} {what}": pages.written[what] for what in wanted}
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    return {"wrote": wrote | {"downloads": downloads, "MB": round(size / 1e6, 1)}, "seconds": took}


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("catalog", type=Path)
    parser.add_argument("site", type=Path, help="a site that likeloss built, or the kept sizes of one")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--draw", choices=("altair", "text"), default="altair")
    asked = parser.parse_args()
    sys.stdout.write(json.dumps(plain_site(asked.catalog, asked.site, asked.folder, draw=asked.draw)) + "\n")

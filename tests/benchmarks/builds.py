"""Builds: of everything, of what one run changes, and of nothing, each beside what it can be held against."""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import plain_site
from drawing import drawing

ROOT = Path(__file__).parents[2]
Timed = tuple[str, str, str, str]  # what was measured, its figure, its budget, what stands beside it
_BUILD = """
import os, re, sys, threading
from datetime import datetime
from pathlib import Path
most = [0, 0]  # kB of this process, and of it with its workers, as far as they share nothing

def watched():
    while not done.wait(0.1):
        own, private = Path("/proc/self/status").read_text(), 0
        for task in Path(f"/proc/{os.getpid()}/task").iterdir():
            for child in (task / "children").read_text().split():
                try:
                    rollup = Path(f"/proc/{child}/smaps_rollup").read_text()
                except OSError:
                    continue
                private += sum(int(kb) for kb in re.findall(r"Private_\\w+: +(\\d+)", rollup))
        resident = int(re.search(r"VmRSS:\\s+(\\d+)", own)[1])
        most[:] = max(most[0], resident), max(most[1], resident + private)

done = threading.Event()
threading.Thread(target=watched, daemon=True).start()
sys.path.insert(0, sys.argv[1])
from builder.publishing.making.building import build_site
if __name__ == "__main__":
    report = build_site(Path(sys.argv[2]), out=Path(sys.argv[3]), as_of=datetime.fromisoformat(sys.argv[4]), jobs=2,
                        cache=Path(sys.argv[5]), progress=lambda _: None)
    done.set()
    print(report.pages, report.charts, *most)
"""


def builds(
    catalog: Path, folder: Path, *, as_of: datetime, enter_one_run: Callable[[], None], most: int
) -> list[Timed]:
    """All of it, in a process of its own each, as a person runs it.

    enter_one_run  puts one more run into the catalogue
    most           devices that the plain way is timed on
    """
    cache = folder / "cache" / "likeloss" / "charts"
    site = folder / "site"
    took, pages, charts, alone, all_of_it = _built(catalog, site, as_of, cache)
    plain = plain_site.plain_pages(site / "data" / "likeloss.db", folder / "plain", most=most)
    plainly = charts * plain.with_chart + (pages - charts) * plain.without
    found: list[Timed] = [
        (
            "full build",
            f"{took:.1f} s",
            "90 s",
            f"{pages} pages, {charts} charts; plainly, one by one {plainly:,.0f} s, {plainly / took:.1f} times as long; "
            f"raw write {_raw_write(site):.1f} s",
        ),
        (
            "its memory, and with that of its workers",
            f"{alone:,.0f} MB, {all_of_it:,.0f} MB",
            "1,500 MB",
            "no limit set",
        ),
    ]
    found += drawing(site)
    enter_one_run()
    one, *_ = _built(catalog, site, as_of, cache)
    whole = folder / "whole"
    full, *_ = _built(catalog, whole, as_of, cache)
    same = "equal" if _contents(site) == _contents(whole) else "NOT EQUAL"
    found.append(("build after one new run", f"{one:.1f} s", "3 s", f"full build {full:.1f} s, byte for byte {same}"))
    found.append(
        (
            "build when nothing changed",
            f"{_nothing(catalog, site, as_of, folder):.2f} s",
            "1.5 s",
            "likeloss build, start-up and all",
        )
    )
    found += _weights(whole)
    return found


def _built(catalog: Path, out: Path, as_of: datetime, cache: Path) -> tuple[float, int, int, float, float]:
    """Seconds, pages, charts, and the most memory of the process, and of it and its workers together [MB]."""
    begun = time.perf_counter()
    command = [sys.executable, "-c", _BUILD, str(ROOT), str(catalog), str(out), as_of.isoformat(), str(cache)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    took = time.perf_counter() - begun
    pages, charts, alone, all_of_it = map(int, done.stdout.split())
    return took, pages, charts, alone / 1024, all_of_it / 1024


def _nothing(catalog: Path, out: Path, as_of: datetime, folder: Path) -> float:
    command = "import sys; sys.path.insert(0, sys.argv.pop(1)); from builder.cli import main; main(sys.argv[1:])"
    words = ["build", "--catalog", str(catalog), "--out", str(out), "--as-of", as_of.isoformat()]
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", command, str(ROOT), *words],
        check=True,
        capture_output=True,
        env=os.environ | {"XDG_CACHE_HOME": str(folder / "cache")},
    )
    return time.perf_counter() - begun


def _raw_write(site: Path) -> float:
    """Seconds to write the files of a site again, as they are."""
    files = _contents(site)
    copy = site.with_name("raw")
    begun = time.perf_counter()
    for name, content in files.items():
        target = copy / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return time.perf_counter() - begun


def _contents(site: Path) -> dict[str, bytes]:
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in sorted(site.rglob("*")) if path.is_file()}


def _weights(site: Path) -> list[Timed]:
    pages = {name: content for name, content in _contents(site).items() if name.endswith(".html")}
    heaviest = max(pages, key=lambda name: len(pages[name]))
    devices = [content for name, content in pages.items() if name.startswith("devices/") and name.count("/") == 2]
    raw = max(map(len, devices)) / 1000
    packed = max(len(gzip.compress(content, mtime=0)) for content in devices) / 1000
    return [
        ("heaviest page", f"{len(pages[heaviest]) / 1000:.0f} kB", "250 kB", heaviest),
        (
            "heaviest device page",
            f"{raw:.0f} kB, {packed:.0f} kB gzip",
            "250 kB, 60 kB gzip",
            f"{len(devices)} of them",
        ),
    ]

"""Rows of building: all of it beside its fair peers, and what the next builds cost."""

from __future__ import annotations

import json
import shutil
import sys
import time
from functools import partial
from pathlib import Path
from statistics import median

from measuring import Took, in_turn, run
from plain.inventory import kinds_of
from rows import HERE, LATER, NOW, Figure, Limit, Place, Row

from tests.benchmarks import generator

PEERS = {"vl-convert": "altair", "text": "text"}


def cold(place: Place) -> Figure:
    """Nothing kept from before, in turn with both peers, so often as `Place.pairs` says. The first is watched."""
    place.notes["cold"] = [place.first]
    _ = place.sizes
    turns = in_turn(
        [partial(_cold, place), *(partial(_plain, place, draw) for draw in PEERS.values())], times=place.pairs
    )
    place.notes["turns"] = turns
    ours = turns[0]
    says = f"{place.first.output.split(' as of')[0]}; raw write of the same files {_raw_write(place):.2f} s"
    return Figure(median(t.processor for t in ours), median(t.clock for t in ours), beside=says)


def beside_peer(number: int, place: Place) -> Figure:
    """What share the build is of a peer, pair by pair; both are whole processes."""
    ours, theirs = place.notes["turns"][0], place.notes["turns"][number]
    ratios = [a.processor / b.processor for a, b in zip(ours, theirs, strict=True)]
    clocks = [a.clock / b.clock for a, b in zip(ours, theirs, strict=True)]
    wrote = json.loads(theirs[0].output)
    counts = ", ".join(f"{count:,} {what}" for what, count in wrote["wrote"].items())
    beside = (
        f"the peer took {median(t.processor for t in theirs):.2f} s, by the clock {median(t.clock for t in theirs):.2f} s, "
        f"{max(t.alone_mb for t in theirs):,.0f} MB; ratios {_span(ratios)}, by the clock {_span(clocks)}, of "
        f"{len(ratios)} in turn; it wrote {counts} (the site has {_bytes(place):.1f} MB)"
    )
    return Figure(value=median(ratios), beside=beside)


def memory(place: Place) -> Figure:
    took = place.first
    return Figure(value=took.workers_mb, beside=f"with its workers; the largest process {took.alone_mb:,.0f} MB")


def kept(place: Place) -> Figure:
    """The site is away, but all that was kept for it is there: pages are written, not composed."""
    _ = place.first
    shutil.move(place.site, place.folder / "away")
    took = place.build(place.site, cache="cache")
    same = _same(place.site, place.folder / "away")
    shutil.rmtree(place.folder / "away")
    return Figure(took.processor, took.clock, beside=f"byte for byte {same} to the build before")


def nothing(place: Place) -> Figure:
    _ = place.first
    took = place.build(place.site, cache="cache")
    return Figure(took.processor, took.clock, beside="start of the program and all")


def moved(place: Place) -> Figure:
    _ = place.first
    before = {path: path.stat().st_ino for path in place.site.rglob("*.html")}
    took = place.build(place.site, cache="cache", as_of=LATER)
    new = sum(not path.exists() or path.stat().st_ino != inode for path, inode in before.items())
    return Figure(took.processor, took.clock, beside=f"{new:,} of {len(before):,} pages written again")


def one_run(place: Place) -> Figure:
    """One run of a device that has results, entered and built; then everything built anew, to compare all bytes."""
    from catalog.entering import enter_batch

    _ = place.first
    enter_batch(generator.one_run(place.folder / "one-more", place.devices), into=place.catalog, now=NOW)
    took = place.build(place.site, cache="cache", as_of=LATER)
    if place.brief:
        return Figure(took.processor, took.clock, beside="not held against a full build")
    whole = place.folder / "whole"
    full = place.build(whole, cache="cache-of-whole", as_of=LATER)
    same = _same(place.site, whole)
    shutil.rmtree(whole)
    beside = (
        f"byte for byte {same} to a full build ({full.processor:.2f} s, {full.clock:.2f} s), which builds a day later"
    )
    return Figure(took.processor, took.clock, beside=beside)


def files(place: Place) -> Figure:
    _ = place.first
    kinds = kinds_of(place.site)
    most = ", ".join(f"{n:,} {kind}" for kind, (n, _) in sorted(kinds.items(), key=lambda item: -item[1][0])[:6])
    return Figure(value=sum(n for n, _ in kinds.values()), beside=most)


def size(place: Place) -> Figure:
    _ = place.first
    kinds = kinds_of(place.site)
    most = ", ".join(f"{b / 1e6:.1f} MB {kind}" for kind, (_, b) in list(kinds.items())[:8])
    return Figure(value=_bytes(place), beside=most)


def _bytes(place: Place) -> float:
    return sum(size for _, size in kinds_of(place.site).values()) / 1e6


def _cold(place: Place) -> Took:
    if place.notes["cold"]:
        return place.notes["cold"].pop()
    out = place.folder / "cold"
    took = place.build(out, cache="cache-of-cold")
    shutil.rmtree(out)
    shutil.rmtree(place.folder / "cache-of-cold", ignore_errors=True)
    return took


def _plain(place: Place, draw: str) -> Took:
    out = place.folder / "plain"
    took = run(
        [sys.executable, str(HERE / "plain_site.py"), str(place.catalog), str(place.sizes), str(out), "--draw", draw]
    )
    shutil.rmtree(out)
    return took


def _raw_write(place: Place) -> float:
    """Seconds by the clock to write the files of the site again, as they are."""
    contents = {path.relative_to(place.site): path.read_bytes() for path in place.site.rglob("*") if path.is_file()}
    target = place.folder / "raw"
    begun = time.perf_counter()
    for name, content in contents.items():
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        (target / name).write_bytes(content)
    took = time.perf_counter() - begun
    shutil.rmtree(target)
    return took


def _same(one: Path, other: Path) -> str:
    """Whether two folders hold the same names and bytes; where not, how many files differ and the first of them."""
    names = {p.relative_to(folder) for folder in (one, other) for p in folder.rglob("*") if p.is_file()}
    differing = sorted(
        name
        for name in names
        if not (one / name).is_file()
        or not (other / name).is_file()
        or (one / name).read_bytes() != (other / name).read_bytes()
    )
    return "equal" if not differing else f"NOT EQUAL ({len(differing):,} files, first {differing[0]})"


def _span(ratios: list[float]) -> str:
    return f"{min(ratios):.2f} to {max(ratios):.2f}"


FIFTH = Limit(0.2, "times")
ROWS = (
    Row("full build, nothing kept", Limit(30), cold),
    Row("its processor time, beside vl-convert", FIFTH, partial(beside_peer, 1)),
    Row("its processor time, beside text", None, partial(beside_peer, 2)),
    Row("its memory", Limit(1_500, "MB"), memory),
    Row("full build, all pages kept", Limit(15), kept),
    Row("nothing changed", Limit(1.5), nothing),
    Row("files of the site", Limit(4_500, "files"), files),
    Row("bytes of the site", Limit(120, "MB"), size),
)
CHANGING = (  # these come last, for the catalogue and the site are other ones afterwards
    Row("the instant moved by a day", None, moved),
    Row("one new run", Limit(5), one_run),
)

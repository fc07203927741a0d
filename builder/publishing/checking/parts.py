"""Whether every file of a built site is whole: pages with their parts, charts with their words, data that parses."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from zipfile import BadZipFile

import defusedxml.ElementTree as Xml
from defusedxml import DefusedXmlException

from builder.publishing.checking.packed import ZIP, members_of

_CHART = re.compile(r"<svg\b[^>]*>.*?</svg>", re.DOTALL)
_ALT = re.compile(r"<img\b(?![^>]*\balt=\"[^\"]+\")[^>]*>")
_ID = re.compile(r"\bid=\"([^\"]+)\"")


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it should be: in which file, which element, and what is wrong."""

    file: str
    element: str
    what: str

    def __str__(self) -> str:
        return f"{self.file}, {self.element}: {self.what}"


def faults(folder: Path) -> list[Fault]:
    """Everything that is wrong with the files of a site, by file."""
    every: list[Fault] = []
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name = path.relative_to(folder).as_posix()
        if path.suffix.lower() in _CHECKS:
            every += _faults_of(name, path.read_bytes())
        elif path.suffix.lower() == ZIP:
            try:
                for member, content in members_of(path):
                    every += [replace(fault, file=name) for fault in _faults_of(member, content)]
            except BadZipFile as failure:
                every.append(Fault(name, "the file", f"it is no zip file: {failure}"))
    return every


def _faults_of(name: str, content: bytes) -> list[Fault]:
    check = _CHECKS.get(Path(name).suffix.lower())
    return [] if check is None else [Fault(name, *fault) for fault in check(content.decode("utf-8"), name)]


def _page(text: str, _: str) -> Iterator[tuple[str, str]]:
    around = _CHART.sub("", text)  # charts have titles of their own
    for element, pattern in (
        ("<html>", r"<html lang=\"[a-z]"),
        ("<title>", r"<title>[^<]+</title>"),
        ("<h1>", r"<h1[^>]*>\s*\S"),
    ):
        count = len(re.findall(pattern, around))
        if count != 1:
            yield element, "there is none, or nothing in it" if not count else f"there are {count}"
    if not text.rstrip().endswith("</html>"):
        yield "</html>", "the page does not end with it"
    for name, count in sorted(Counter(_ID.findall(text)).items()):
        if count > 1:
            yield f'id="{name}"', f"{count} elements have it"
    for image in _ALT.findall(text):
        yield image[:60], "a picture without alternative text"
    for number, chart in enumerate(_CHART.findall(text), start=1):
        opening = chart[: chart.index(">")]
        if "aria-hidden" not in opening:
            yield from _chart(f"chart {number}", opening, linked="<a " in chart)


def _chart(element: str, opening: str, *, linked: bool) -> Iterator[tuple[str, str]]:
    role = "group" if linked else "img"  # links in an image would be hidden from those who hear the page
    if f'role="{role}"' not in opening:
        yield element, f"it is not marked as {'a group of links' if linked else 'an image'}"
    if not re.search(r"aria-label(?:ledby)?=\"[^\"]+\"", opening):
        yield element, "it has no spoken text"


def _json(text: str, _: str) -> Iterator[tuple[str, str]]:
    try:
        json.loads(text)
    except ValueError as failure:
        yield "the document", f"it is not JSON: {failure}"


def _xml(text: str, _: str) -> Iterator[tuple[str, str]]:
    try:
        Xml.fromstring(text)
    except (Xml.ParseError, DefusedXmlException) as failure:
        yield "the document", f"it is not XML: {failure}"


def _csv(text: str, name: str) -> Iterator[tuple[str, str]]:
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=";" if "semicolon" in name else ","))
    for number, row in enumerate(rows, start=1):
        if len(row) != len(rows[0]):
            yield f"row {number}", f"it has {len(row)} columns, the header has {len(rows[0])}"
            return


_CHECKS = {".html": _page, ".json": _json, ".xml": _xml, ".svg": _xml, ".csv": _csv}

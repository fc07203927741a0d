"""What must never be in a public site: hidden names, addresses of hardware, serial numbers, places, paths, notes.

Every file is looked at: text as it stands (addresses of files too), packed text unpacked, every value of a database, every picture for
anything but pixels. Each leak is reported with its file and a few words around it.
"""

from __future__ import annotations

import io
import re
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from PIL import Image as Raster
from PIL import UnidentifiedImageError

from builder import wording
from builder.charts import face
from builder.publishing.checking.packed import ZIP, members_of, opened
from builder.publishing.checking.secrets_sought import Sought

PICTURES = frozenset({".png", ".jpg", ".jpeg", ".webp", ".gif", ".tif", ".tiff", ".avif"})
DATABASES = frozenset({".db", ".sqlite"})
_AROUND = 24  # characters shown on either side of a leak

# What a picture may carry besides pixels: how to show them, and nothing of where they come from.
_HARMLESS = frozenset(
    {
        "dpi",
        "gamma",
        "srgb",
        "transparency",
        "background",
        "interlace",
        "loop",
        "chromaticity",
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
        "progressive",
        "progression",
        "aspect",
        "duration",
        "timestamp",
    }
)

_HEX2 = "[0-9A-Fa-f]{2}"
_MAC = re.compile(
    rf"(?<![0-9A-Za-z:.-])(?:{_HEX2}([:-])(?:{_HEX2}\1){{4}}{_HEX2}"
    r"|(?=[0-9.]*[A-Fa-f])[0-9A-Fa-f]{4}\.[0-9A-Fa-f]{4}\.[0-9A-Fa-f]{4})(?![0-9A-Za-z:-])"
)
# Every hardware address has one and few texts do: looking for it first is four times as quick.
_PART_OF_MAC = re.compile(rf"[:-]{_HEX2}[:-]{_HEX2}[:-]{_HEX2}[:-]{_HEX2}|\.[0-9A-Fa-f]{{4}}\.[0-9A-Fa-f]{{4}}")
# A code with two digits or more behind the words for a serial number; "serial numbers are kept out" has none.
_SERIAL = re.compile(
    r"(?:\bserial(?:[ _-]?(?:number|num|no\.?|nr\.?))?|\bS/N|\bSN(?=\s?[:=#]))(?!\w)[\s:=#.\"']{0,6}(?:(?:is|was)[\s:]+)?[\"']?"
    r"((?=(?:[A-Z-]*\d){2})[A-Z0-9][A-Z0-9-]{4,})",
    re.IGNORECASE,
)
_NETWORK = re.compile(
    r"(?:\bE?SSID\b|\b(?:network|wi-?fi) name\b)(?:[\"']?\s*[:=]\s*[\"'“„]?[^\s\"'“„<,;]{2,32}"
    r"|\s*(?:is|was)?\s*[\"'“„][^\"'“”„<]{1,32}[\"'”“])",
    re.IGNORECASE,
)
_PLACE = re.compile(
    r"\bgeo:-?\d{1,2}\.\d+,-?\d{1,3}\.\d+"
    r"|\b(?:GPS\w*|lat|latitude)\b[\"']?\s*[:=,]?\s*-?\d{1,2}(?:\.\d{3,}|°\s*\d)"
    r"|\b\d{1,2}°\s?\d{1,2}['′]\s?\d{1,2}(?:\.\d+)?[\"″]?\s?[NS]\b",
    re.IGNORECASE,
)
_TOPS = ("home", "users", "root", "tmp", "var", "mnt", "media", "srv", "private", "volumes")
_PATH = re.compile(
    r"\bfile://[/\w]|(?<![\w.:/%~-])~/[\w.]|(?<![\w\\])[A-Za-z]:\\(?:Users|Documents|home)\b"
    rf"|(?<![\w.:/%~+=-])/(?:{'|'.join(_TOPS)})/[\w.-]+",
    re.IGNORECASE,
)
Signs = tuple[str, ...] | re.Pattern[str]

# Kind, pattern, and signs in small letters without one of which no text can hold it: looking for those is quick.
_PATTERNS: tuple[tuple[str, re.Pattern[str], Signs], ...] = (
    ("a hardware (MAC) address", _MAC, _PART_OF_MAC),
    ("a serial number", _SERIAL, ("serial", "s/n", "sn")),
    ("the name of a network", _NETWORK, ("ssid", "network name", "wi-fi name", "wifi name")),
    ("a place on the map", _PLACE, ("geo:", "gps", "lat", "°")),
    ("a path on somebody's computer", _PATH, ("file:", "~/", ":\\", *(f"/{top}/" for top in _TOPS))),
)


@dataclass(frozen=True, slots=True)
class Leak:
    """One leak: in which file, of what kind, and the text around it."""

    file: str
    kind: str
    text: str

    def __str__(self) -> str:
        return f"{self.file} holds {self.kind}: {self.text}"

    @property
    def refusal(self) -> str:
        """What is said of it before there is a site."""
        return f"{wording.capital(self.kind)} must not be public, so no site with it can be published: {self.text}. Take it out."


def leaks(folder: Path, sought: Sought) -> list[Leak]:
    """Everything in the site in *folder* that must not be public, by file; each kind and text once per file.

    sought  words and paths that are secret in themselves
    """
    every: list[Leak] = []
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name = path.relative_to(folder).as_posix()
        every += dict.fromkeys(_leaks_of(path, name, sought))
    return every


def leaks_in(text: str, name: str, sought: Sought) -> list[Leak]:
    """The same for one text; *name* says where it is."""
    return list(dict.fromkeys(_in_text(name, text, sought)))


def _leaks_of(path: Path, name: str, sought: Sought) -> Iterator[Leak]:
    yield from _in_text(name, name, sought)
    kind = path.suffix.lower()
    content = path.read_bytes()
    if kind in PICTURES:
        yield from _in_picture(name, content)
    elif kind in DATABASES:
        yield from _in_database(name, content, sought)
        return
    elif kind == ZIP:
        for member, held in members_of(path):
            if Path(member).suffix.lower() in DATABASES:
                yield from _in_text(name, member, sought)
                yield from _in_database(name, held, sought)
            else:
                yield from _in_text(name, f"{member}\n{held.decode('utf-8', errors='replace')}", sought)
        return
    else:
        # The face is the program's own, and packed letters spell any short name somewhere.
        text = face.without_rules(content.decode("utf-8", errors="replace"))
        yield from _in_text(name, opened(text) if kind == ".js" else text, sought)
        return
    # Bytes of unknown form, too: what stands after the end of a picture.
    yield from _in_text(name, content.decode("utf-8", errors="replace"), sought, patterns=())


def _in_text(
    name: str,
    text: str,
    sought: Sought,
    *,
    patterns: Iterable[tuple[str, re.Pattern[str], Signs]] = _PATTERNS,
) -> Iterator[Leak]:
    small = text.lower()
    for kind, pattern, signs in patterns:
        if _may_hold(small, signs):
            for match in pattern.finditer(text):
                yield Leak(name, kind, _around(text, match))
    for kind, match in sought.found_in(text, small):
        yield Leak(name, kind, _around(text, match))


def _may_hold(small: str, signs: Signs) -> bool:
    return any(sign in small for sign in signs) if isinstance(signs, tuple) else signs.search(small) is not None


def _around(text: str, match: re.Match[str]) -> str:
    start, end = max(match.start() - _AROUND, 0), min(match.end() + _AROUND, len(text))
    shown = re.sub(r"[\s\x00-\x1f\x7f-\x9f]+", " ", text[start:end]).strip()
    return f"{'…' if start else ''}{shown}{'…' if end < len(text) else ''}"


def _in_database(name: str, content: bytes, sought: Sought) -> Iterator[Leak]:
    for text in _database_texts(content):
        yield from _in_text(name, text, sought)
    # Bytes of unknown form, too: a page that is not used.
    yield from _in_text(name, content.decode("utf-8", errors="replace"), sought, patterns=())


def _database_texts(content: bytes) -> Iterator[str]:
    """Every text of a database: its schema, and each table's rows, one text per column."""
    with closing(sqlite3.connect(":memory:")) as db:
        db.deserialize(content)
        schema = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table' ORDER BY name").fetchall()
        yield "\n".join(sql or "" for _, sql in schema)
        for table, _ in schema:
            for (column,) in db.execute(f"SELECT name FROM pragma_table_info('{table}')").fetchall():
                texts = db.execute(f'SELECT DISTINCT "{column}" FROM "{table}" WHERE typeof("{column}") = \'text\'')
                yield f"\n{column} ".join(["", *(row[0] for row in texts)])


def _in_picture(name: str, content: bytes) -> Iterator[Leak]:
    """A picture may hold pixels and how to show them. EXIF: JEITA CP-3451; text chunks: PNG, W3C, 11.3.3."""
    try:
        with Raster.open(io.BytesIO(content)) as picture:
            picture.load()
            tags = picture.getexif()
            if tags.get_ifd(0x8825):  # the GPS directory
                yield Leak(name, "a place on the map", "the GPS position of its camera")
            if tags:
                yield Leak(name, "what a camera noted", f"{len(tags)} EXIF entries")
            carried = sorted(str(key) for key in picture.info if str(key).lower() not in (*_HARMLESS, "exif"))
            for key in carried:
                yield Leak(name, "more than pixels", f"an entry called {key}")
    except (UnidentifiedImageError, OSError) as failure:
        yield Leak(name, "no picture, although it is called one", str(failure))
        return
    if content.startswith(b"\xff\xd8") and not content.rstrip(b"\0").endswith(b"\xff\xd9"):
        yield Leak(name, "more than pixels", "bytes after the end of the picture")
    if content.startswith(b"\x89PNG") and not content.endswith(b"IEND\xaeB`\x82"):
        yield Leak(name, "more than pixels", "bytes after the end of the picture")

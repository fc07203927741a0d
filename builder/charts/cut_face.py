"""The face cut down to the letters of one picture, in the web's packed form.

What libraries for faces take 30 ms for takes a sixth of one here, because next to nothing of a face is read: outlines are
taken as they are, and put together anew. No kerning, which plays no part where text is measured.

Source  OpenType 1.9.1: glyf, loca, cmap (format 4), hmtx, maxp. WOFF File Format 2.0 (W3C), sections 4 and 5.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

# Of WOFF 2.0's table of known tags: those that are written, in their order.
_KNOWN = {
    "cmap": 0,
    "head": 1,
    "hhea": 2,
    "hmtx": 3,
    "maxp": 4,
    "name": 5,
    "OS/2": 6,
    "post": 7,
    "glyf": 10,
    "loca": 11,
}
_AS_IT_IS = 3 << 6  # of outlines and where they lie: not in the other form that the packed one has for them
_QUALITY = 6  # of Brotli: the best takes twenty times as long, for a twentieth of the bytes
_HEAD_OF_LOCA = 50  # where the table "head" says how "loca" is written: 0, in halves
_NAMES = {1: "Bench Sans", 2: "Regular"}
# Flags of a part of an outline that is made of others.
_WIDE, _SCALE, _MORE, _TWO_SCALES, _MATRIX = 1, 8, 32, 64, 128


@dataclass(frozen=True, slots=True)
class Parts:
    """What a face is put together of.

    tables    those that stay as they are, and "hhea" and "maxp", which say how many outlines there are
    outlines  by number
    advances  (advance, side bearing) of each
    numbers   code point -> number of the outline
    """

    tables: Mapping[str, bytes]
    outlines: tuple[bytes, ...]
    advances: tuple[tuple[int, int], ...]
    numbers: Mapping[int, int]


def parts_of(font: TTFont) -> Parts:
    """The parts of a face with outlines of the kind TrueType."""
    order = font.getGlyphOrder()
    offsets = list(font["loca"])
    glyf = font.reader["glyf"]
    tables = {tag: font.reader[tag] for tag in ("head", "hhea", "maxp", "OS/2", "post")}
    tables["head"] = tables["head"][:_HEAD_OF_LOCA] + b"\0\0" + tables["head"][_HEAD_OF_LOCA + 2 :]
    return Parts(
        tables | {"name": _names()},
        tuple(glyf[start:end] for start, end in pairwise(offsets)),
        tuple(font["hmtx"][name] for name in order),
        {code: font.getGlyphID(name) for code, name in font.getBestCmap().items()},
    )


def cut(parts: Parts, letters: Iterable[str]) -> bytes:
    """A face with these letters, as far as it has them, and what stands for any other. The same letters, the same bytes."""
    import brotli  # only where a picture is written

    codes = sorted(code for code in map(ord, set(letters)) if code in parts.numbers)
    numbers = [0, *(parts.numbers[code] for code in codes)]
    for number in numbers:  # those that an outline is made of come behind, and may be made of others
        numbers += [part for _, part in _made_of(parts.outlines[number]) if part not in numbers]
    new = {number: place for place, number in reversed(list(enumerate(numbers)))}
    outlines = [_renumbered(parts.outlines[number], new) for number in numbers]
    ends = [0]
    for outline in outlines:
        ends.append(ends[-1] + len(outline))
    tables = {
        **parts.tables,
        "cmap": _letters(codes),
        "hhea": parts.tables["hhea"][:-2] + struct.pack(">H", len(numbers)),
        "hmtx": b"".join(struct.pack(">Hh", *parts.advances[number]) for number in numbers),
        "maxp": parts.tables["maxp"][:4] + struct.pack(">H", len(numbers)) + parts.tables["maxp"][6:],
        "glyf": b"".join(outlines),
        "loca": struct.pack(f">{len(ends)}H", *(end // 2 for end in ends)),
    }
    content = b"".join(tables[tag] for tag in _KNOWN)
    return _packed(tables, brotli.compress(content, mode=brotli.MODE_FONT, quality=_QUALITY))


def _made_of(outline: bytes) -> list[tuple[int, int]]:
    """Of an outline that is made of others: where it names each, and its number."""
    if not outline or outline[0] < 128:  # how many curves it has; below zero it has none of its own
        return []
    named, at, flags = [], 10, _MORE
    while flags & _MORE:
        flags, number = struct.unpack_from(">HH", outline, at)
        named.append((at + 2, number))
        at += 4 + (4 if flags & _WIDE else 2)
        at += 2 if flags & _SCALE else 4 if flags & _TWO_SCALES else 8 if flags & _MATRIX else 0
    return named


def _renumbered(outline: bytes, new: Mapping[int, int]) -> bytes:
    """The outline with the new numbers of those it is made of, of even length."""
    for at, number in _made_of(outline):
        outline = outline[:at] + struct.pack(">H", new[number]) + outline[at + 2 :]
    return outline + b"\0" * (len(outline) % 2)


def _letters(codes: list[int]) -> bytes:
    """The table "cmap": which outline each letter has, the first being number 1. Runs of letters in a row are one entry."""
    starts = [place for place, code in enumerate(codes) if not place or codes[place - 1] != code - 1]
    runs = [(codes[a], codes[b - 1], a + 1) for a, b in zip(starts, [*starts[1:], len(codes)], strict=True)]
    segments = [(first, last, (number - first) % 65536) for first, last, number in runs]
    segments.append((0xFFFF, 0xFFFF, 1))
    count = len(segments)
    power = 1 << (count.bit_length() - 1)
    search = (2 * count, 2 * power, power.bit_length() - 1, 2 * (count - power))
    table = struct.pack(">3H4H", 4, 16 + 8 * count, 0, *search)
    table += struct.pack(f">{count}HH", *(last for _, last, _ in segments), 0)
    table += struct.pack(f">{count}H", *(first for first, _, _ in segments))
    table += struct.pack(f">{count}H", *(delta for _, _, delta in segments))
    table += struct.pack(f">{count}H", *([0] * count))
    return struct.pack(">2H2HI", 0, 1, 3, 1, 12) + table


def _names() -> bytes:
    """The table "name", without which some take a face for none."""
    texts = {number: text.encode("utf-16-be") for number, text in _NAMES.items()}
    at, records = 0, b""
    for number, text in texts.items():
        records += struct.pack(">6H", 3, 1, 0x409, number, len(text), at)
        at += len(text)
    return struct.pack(">3H", 0, len(texts), 6 + len(records)) + records + b"".join(texts.values())


def _packed(tables: Mapping[str, bytes], content: bytes) -> bytes:
    directory = b"".join(
        bytes([number | (_AS_IT_IS if tag in ("glyf", "loca") else 0)]) + _length(len(tables[tag]))
        for tag, number in _KNOWN.items()
    )
    plain = 12 + 16 * len(_KNOWN) + sum(-(-len(tables[tag]) // 4) * 4 for tag in _KNOWN)
    size = 48 + len(directory) + len(content)
    padding = -size % 4
    counts = 0x10000, size + padding, len(_KNOWN), 0, plain, len(content), 1, 0
    head = struct.pack(">4s2I2H2I2H5I", b"wOF2", *counts, *[0] * 5)
    return head + directory + content + b"\0" * padding


def _length(value: int) -> bytes:
    """A length in as few bytes as it takes, seven bits in each."""
    parts = [value & 127]
    while value := value >> 7:
        parts.append(value & 127 | 128)
    return bytes(reversed(parts))

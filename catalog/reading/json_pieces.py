"""The elements of a long list in a JSON document, parsed some thousands at a time instead of all at once.

Brackets and commas outside of strings tell where elements begin; what lies between them is parsed strictly, and so is
the document with every such list cut out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import orjson

_SCANNED = 1 << 20
_PIECE = 1 << 20
_ESCAPED = re.compile(rb"\\.", re.DOTALL)
_DELTA = np.zeros(256, dtype=np.int8)
_DELTA[list(b"[{")] = 1
_DELTA[list(b"]}")] = -1
_MARK = _DELTA != 0
_MARK[ord(",")] = True


def elements(body: bytes, steps: Sequence[str]) -> Iterator[list[Any]] | None:
    """The elements of the list that member names lead to; None where it must be read as a whole.

    That is so where the document is not valid, and where the names lead to anything but a list.
    """
    scanned = _scanned(body, len(steps) + 1)
    if scanned is None:
        return None
    lists, commas = scanned
    pieces, last = [], 0
    for number, (begin, end) in enumerate(lists):
        pieces += [body[last:begin], b"[%d]" % number]
        last = end
    try:
        value = orjson.loads(b"".join([*pieces, body[last:]]))
    except orjson.JSONDecodeError:
        return None
    for step in steps:
        value = value.get(step) if isinstance(value, dict) else None
    if not (isinstance(value, list) and len(value) == 1 and isinstance(value[0], int)):
        return None
    spans = [(begin + 1, end - 1, commas[slice(*np.searchsorted(commas, (begin, end)))]) for begin, end in lists]
    try:
        for number, span in enumerate(spans):
            if number != value[0]:  # valid, or the document is not
                for _ in _parsed(body, *span):
                    pass
    except orjson.JSONDecodeError:
        return None
    return _parsed(body, *spans[value[0]])


def _parsed(body: bytes, begin: int, end: int, commas: Any) -> Iterator[list[Any]]:
    """The elements between two places, parted by commas.

    Raises  orjson.JSONDecodeError where they are not valid.
    """
    while True:
        place = int(np.searchsorted(commas, begin + _PIECE))
        until = int(commas[place]) if place < len(commas) else end
        piece = body[begin:until]
        yield orjson.loads(b"[" + piece + b"]" if piece.strip() or not len(commas) else b"[,]")
        if until == end:
            return
        begin = until + 1


def _scanned(body: bytes, depth: int) -> tuple[list[tuple[int, int]], Any] | None:
    """Where lists lie that are so deep in the document, and where commas stand so deep; None for unequal brackets."""
    opened: list[int] = []
    closed: list[int] = []
    commas: list[Any] = []
    begin, level, in_text = 0, 0, 0
    while begin < len(body):
        end = min(begin + _SCANNED, len(body))
        while end < len(body) and body[end - 1] == ord("\\"):
            end += 1
        piece = body[begin:end]
        if b"\\" in piece:
            piece = _ESCAPED.sub(b"__", piece)
        letters = np.frombuffer(piece, dtype=np.uint8)
        inside = (np.cumsum(letters == ord('"'), dtype=np.int32) + in_text) & 1
        in_text = int(inside[-1])
        marks = np.flatnonzero(_MARK[letters] & (inside == 0))
        kinds = letters[marks]
        levels = level + np.cumsum(_DELTA[kinds], dtype=np.int64)
        if len(levels):
            level = int(levels[-1])
        opened += (begin + marks[(kinds == ord("[")) & (levels == depth)]).tolist()
        closed += (begin + marks[(kinds == ord("]")) & (levels == depth - 1)] + 1).tolist()
        commas.append(begin + marks[(kinds == ord(",")) & (levels == depth)])
        begin = end
    if level or in_text or len(opened) != len(closed) or not opened:
        return None
    lists = list(zip(opened, closed, strict=True))
    bounds = [place for pair in lists for place in pair]
    return (lists, np.concatenate(commas)) if bounds == sorted(bounds) else None

"""What packed parts of a site hold, so that whoever looks for something looks there, too."""

from __future__ import annotations

import base64
import binascii
import re
import zlib
from collections.abc import Iterator
from pathlib import Path
from zipfile import ZipFile

ZIP = ".zip"
_PACKED = re.compile(r'"(e[FJN][A-Za-z0-9+/]{20,}={0,2})"')  # zlib as base64 (charts/rendering.py, files/scripts.py)


def members_of(path: Path) -> Iterator[tuple[str, bytes]]:
    """Name and content of each member of a zip file. Raises BadZipFile."""
    with ZipFile(path) as archive:
        for member in archive.infolist():
            yield member.filename, archive.read(member)


def opened(text: str) -> str:
    """A script with what its packed values hold in their place: packed letters spell any short name somewhere."""
    return _PACKED.sub(_held, text)


def _held(match: re.Match[str]) -> str:
    try:
        return zlib.decompress(base64.b64decode(match[1], validate=True)).decode()
    except (binascii.Error, zlib.error, UnicodeDecodeError):
        return match[0]

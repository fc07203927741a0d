"""Downloads of a built site, read as a reader's program would."""

import base64
import json
import zlib
from pathlib import Path
from zipfile import ZipFile


def json_text_of(path):
    """The one member of a packed download, which is named as the download is without ".zip"."""
    with ZipFile(path) as archive:
        assert archive.namelist() == [path.name.removesuffix(".zip")]
        return archive.read(archive.namelist()[0]).decode()


def unpacked(path, folder):
    """The same as a file in a folder."""
    with ZipFile(path) as archive:
        assert archive.namelist() == [path.name.removesuffix(".zip")]
        return Path(archive.extract(archive.namelist()[0], folder))


def database_of(site, folder):
    """The SQLite download of a site as a file in a folder."""
    return unpacked(site / "data" / "likeloss.db.zip", folder)


def specification_of(path):
    """The Vega-Lite specification in a packed file of it."""
    return json.loads(json_text_of(path))


def script_value(content):
    """The value that a script of data hands over."""
    value = json.loads(content[content.index(b" = ") + 3 : -2])
    return json.loads(zlib.decompress(base64.b64decode(value))) if isinstance(value, str) else value


def json_of(site, name):
    """The document of a download: runs, cells or longruns."""
    return json.loads(json_text_of(site / "data" / f"{name}.json.zip"))

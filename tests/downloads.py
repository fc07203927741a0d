"""Downloads of a built site, read as a reader's program would."""

import json
from zipfile import ZipFile


def json_text_of(path):
    """The one member of a packed download, which is named as the download is without ".zip"."""
    with ZipFile(path) as archive:
        assert archive.namelist() == [path.name.removesuffix(".zip")]
        return archive.read(archive.namelist()[0]).decode()


def json_of(site, name):
    """The document of a download: runs, cells or longruns."""
    return json.loads(json_text_of(site / "data" / f"{name}.json.zip"))

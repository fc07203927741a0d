"""What batch.toml states about the batch itself: its name, embargoes, method, articles and images."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from catalog.checking import keys
from catalog.checking.bench_minutes import read_bench
from catalog.checking.keys import Key, Section
from catalog.checking.known import Row, came_again
from catalog.checking.names import fold
from catalog.checking.site import SITE
from catalog.checking.things import Things
from catalog.checking.times import read_instant, utc_text, zone_called
from catalog.checking.troubles import Trouble
from catalog.errors import InputRefused
from catalog.method import PRACTICE_WINDOWS, WINDOW_NAMES, Constants, constants_from_json, laid_over
from catalog.reading.folder import MAX_IMAGE_BYTES, MAX_TEXT_BYTES, Folder
from catalog.reading.format import FORMAT, TABLES
from catalog.reading.pictures import NotAPicture, decoded

THING_KINDS = frozenset(
    {
        "device",
        "client",
        "house",
        "session",
        "role",
        "settings",
        "workload",
        "method",
        "bench",
        "article",
        "image",
        "site",
        "embargo",
        "defaults",
        "tables",
        keys.IGNORE_COLUMNS,
    }
)


def _format(value: Any) -> int | Trouble:
    if value == FORMAT and not isinstance(value, bool):
        return FORMAT
    return Trouble(f"Format {value!r} is not one this program reads.", f"Write format = {FORMAT}.", "format")


def _zone(value: Any) -> str | Trouble:
    result = zone_called(value) if isinstance(value, str) else keys.text(value)
    return result if isinstance(result, Trouble) else str(value)


_BATCH = {
    "format": Key(_format, "format"),
    "id": Key(keys.slug, "batch_id", True),
    "title": Key(keys.text, "title", True),
    "timezone": Key(_zone, "timezone"),
    "licence": Key(keys.text, "licence", True),
}
_ARTICLE = {
    "id": Key(keys.slug, "article_id", True),
    "title": Key(keys.text, "title", True),
    "published": Key(lambda value: value, "published", True),
    "file": Key(keys.text, "path", True),
    "devices": Key(keys.texts, "devices"),
}
_IMAGE = {
    "file": Key(keys.text, "path", True),
    "device": Key(keys.slug, "device_id"),
    "kind": Key(keys.one_of("case", "ports", "teardown", "thermal", "other"), "kind", True),
    "alt": Key(keys.text, "alt", True),
    "credit": Key(keys.text, "credit"),
}
_SIGMAS = ("attenuation_sigma_db", "placement_sigma_db", "calibration_sigma_db", "level_sigma_db")


def read_batch_keys(things: Things) -> Row:
    """Id, title, timezone and licence of the batch, as far as they are given."""
    row = things.root.read(_BATCH, others=THING_KINDS)
    defaults = things.root.values.get("defaults", {})
    if not isinstance(defaults, dict):
        things.root.refuse("defaults", Trouble("Defaults are written as [defaults.runs].", "", "wrong-shape"))
    else:
        for stem, section in defaults.items():
            if stem not in TABLES or not isinstance(section, dict):
                unknown = Trouble(f"There is no table {stem!r}.", f"Tables are {', '.join(TABLES)}.", "unknown-key")
                things.problems.append(unknown.at(*things.file.place("defaults", stem), stem, ""))
    row.pop("format", None)
    read_bench(things)
    return row


def ignored_columns(things: Things) -> frozenset[str]:
    """Columns that nobody knows and that the batch calls no condition of a test, folded."""
    stated = things.root.values.get(keys.IGNORE_COLUMNS, [])
    names = keys.texts(stated)
    if isinstance(names, Trouble):
        things.root.refuse(keys.IGNORE_COLUMNS, names, stated)
        return frozenset()
    return frozenset(map(fold, names))


def read_embargoes(things: Things) -> None:
    """Those of devices, units and firmware, and the one that hides the whole batch's results."""
    if (batch := things.root.child("embargo")) is not None:
        _embargo(things, batch, {"subject": "batch"})
    for section, subject in things.embargoes:
        _embargo(things, section, subject)


def _embargo(things: Things, section: Section, subject: Row) -> None:
    whole_batch = subject["subject"] == "batch"
    words = ("existence", "results")
    spec = {
        "until": Key(lambda value: value, "until", True),
        "timezone": Key(_zone, "timezone"),
        "covers": Key(keys.one_of(*words), "covers", default="results" if whole_batch else "existence"),
    }
    row = section.read(spec)
    if not {"until", "covers"} <= row.keys():
        return
    typed = str(row["until"])
    moment = read_instant(typed, row.get("timezone"))
    if isinstance(moment, Trouble):
        if moment.code == "no-zone":
            moment = replace(
                moment,
                expected=f"The embargo until {typed} has no zone, so nobody knows when it ends.",
                remedy='Add timezone = "America/New_York" beside it, or an offset.',
            )
        section.refuse("until", moment, typed)
        return
    stored = {
        **dict.fromkeys(("device_id", "unit_id", "version")),
        **subject,
        "until_utc": utc_text(moment),
        "until_typed": f"{typed} {row['timezone']}" if "timezone" in row else typed,
        "covers": row["covers"],
    }
    same = [
        there
        for there in things.known.of("embargo")
        if all(there[column] == stored[column] for column in ("subject", "device_id", "unit_id", "version"))
        and (not whole_batch or there["batch_id"] == things.batch_id)
    ]
    if same:
        if any(same[-1][column] != stored[column] for column in ("until_utc", "covers")):
            moved = Trouble(
                f"There is an embargo until {same[-1]['until_typed']} already.",
                "Use a correction.",
                "conflict",
            )
            section.refuse("until", moved, typed)
        return
    stored = {"embargo_id": things.known.new_id("embargo", "embargo_id"), **stored, **things.origin(section)}
    things.rows.setdefault("embargo", []).append(stored)
    things.known.rows.setdefault("embargo", []).append(stored)


def read_method(things: Things) -> None:
    """[method]: a new version of the constants where any value differs."""
    section = things.root.child("method")
    if section is None:
        return
    sigma = keys.number(0, 30)
    spec = {
        **{name: Key(sigma, name) for name in _SIGMAS},
        "session_spread": Key(keys.number(0, 1), "session_spread"),
        "house_spread": Key(_house_spread, "house_spread"),
        "windows": Key(_windows, "windows"),
        "supersedes": Key(keys.truth, "supersedes"),
    }
    row = section.read(spec)
    supersedes = bool(row.pop("supersedes", 0))
    latest = max(things.known.of("method"), key=lambda item: item["version"], default=None)
    current = constants_from_json(latest["constants"], version=latest["version"]) if latest else Constants(version=1)
    spread = row.pop("house_spread", None)
    if spread is not None:
        row |= {"house_spread_mbit_s": None, "house_spread_percent": None, **spread}
    if row:
        declaration = {"batch_id": things.batch_id, "said": json.dumps(row, sort_keys=True)}
        things.rows.setdefault("declaration", []).append(declaration)
    new = laid_over(current, row)
    if new.to_json() == current.to_json():
        if latest is not None and latest["batch_id"] is not None:
            things.again.append(came_again("method", latest, things.origin(section)))
        return
    if latest is not None and latest["batch_id"] is not None and not supersedes:
        changed = next(name for name in row if getattr(current, name) != getattr(new, name))
        was = getattr(current, changed)
        conflict = Trouble(
            f"{changed} is {'not declared' if was is None else was} in the method of this catalogue.",
            "A change holds for every figure from now on: write supersedes = true beside it if that is meant.",
            "method-change",
        )
        section.refuse(changed if changed in section.values else "", conflict, row[changed])
        return
    stored = {"version": current.version + 1, "constants": new.to_json(), "batch_id": things.batch_id}
    things.rows.setdefault("method", []).append(stored)


def _house_spread(value: Any) -> Row | Trouble:
    if isinstance(value, dict) and len(value) == 1:
        unit, amount = next(iter(value.items()))
        if unit in ("mbit_s", "percent"):
            spread = keys.number(0)(amount)
            return spread if isinstance(spread, Trouble) else {f"house_spread_{unit}": spread}
    return Trouble(f"{value!r} is no spread.", "Write {mbit_s = 20} or {percent = 3}.", "wrong-shape")


def _windows(value: Any) -> dict[str, dict[str, tuple[float, float]]] | Trouble:
    wrong = Trouble(
        f"{value!r} are no windows.",
        'Write {"5" = {near = [50, 60], middle = [60, 75], far = [75, 90]}}.',
        "wrong-shape",
    )
    if not isinstance(value, dict):
        return wrong
    windows: dict[str, dict[str, tuple[float, float]]] = {}
    for band, names in value.items():
        if band not in PRACTICE_WINDOWS or not isinstance(names, dict) or not names.keys() <= set(WINDOW_NAMES):
            return wrong
        windows[band] = {}
        for name, ends in names.items():
            if (
                not isinstance(ends, list)
                or len(ends) != 2
                or not all(isinstance(end, int | float) and not isinstance(end, bool) for end in ends)
                or not 0 <= ends[0] < ends[1] <= 130
            ):
                return wrong
            windows[band][name] = (float(ends[0]), float(ends[1]))
    return windows


def read_articles(things: Things, folder: Folder, zone: str | None, files: dict[str, str]) -> None:
    """Articles with their text. The file of each goes into *files*, path -> SHA-256."""
    for section in things.root.children("article"):
        row = section.read(_ARTICLE)
        devices = row.pop("devices", [])
        published = row.pop("published", None)
        if published is not None:
            moment = read_instant(_instant_text(published), zone)
            if isinstance(moment, Trouble):
                section.refuse("published", moment, published)
            else:
                row["published_utc"] = utc_text(moment)
        content = _file(section, folder, row.get("path"), MAX_TEXT_BYTES)
        if content is not None:
            try:
                row["text"] = content.decode("utf-8-sig").replace("\r\n", "\n")
                files[row["path"]] = hashlib.sha256(content).hexdigest()
            except UnicodeDecodeError:
                section.refuse("file", Trouble("The article is not UTF-8 text.", "Save it as UTF-8.", "not-utf-8"))
        for device in devices:
            if not things.exists("device", device_id=device):
                section.refuse("devices", things.unknown_device(device), device)
        if {"article_id", "title", "published_utc", "path", "text"} <= row.keys():
            there = things.stored("article", article_id=row["article_id"])
            if there is not None and there["text"] != row["text"] and not things.brings("article", there):
                section.refuse("file", _another_text(row["article_id"], there["path"]), row["path"])
                continue
            known = things.add("article", ("article_id",), row, section)
            if not known:
                things.rows.setdefault("article_device", []).extend(
                    {"article_id": row["article_id"], "device_id": device} for device in dict.fromkeys(devices)
                )


def _another_text(article_id: str, path: str) -> Trouble:
    return Trouble(
        f"The article {article_id} stands in the catalogue with another text.",
        f"A correction changes it: article,id={article_id},file,{path},NEW.md with a reason, a name and a day; NEW.md "
        "lies beside the file of corrections.",
        "conflict",
    )


def _instant_text(value: object) -> str:
    return value.isoformat(" ") if isinstance(value, dt.datetime) else str(value)


def read_images(things: Things, folder: Folder, files: dict[str, str]) -> None:
    """Images with their description. The file of each goes into *files*, path -> SHA-256."""
    seen: set[str] = set()
    entered = things.known.measured("image")
    for section in things.root.children("image"):
        row = section.read(_IMAGE)
        device = row.get("device_id")
        if device is not None and not things.exists("device", device_id=device):
            section.refuse("device", things.unknown_device(device), device)
        content = _file(section, folder, row.get("path"), MAX_IMAGE_BYTES)
        if content is None or not {"path", "kind", "alt"} <= row.keys():
            continue
        if row["path"] in seen:
            section.refuse(
                "file",
                Trouble("This file is described twice.", "Keep one of them.", "image-twice"),
                row["path"],
            )
            continue
        seen.add(row["path"])
        digest = hashlib.sha256(content).hexdigest()
        same = [
            there
            for there in entered
            if (there["sha256"], there["device_id"], there["kind"]) == (digest, device, row["kind"])
        ]
        try:
            kind = decoded(content).format
        except NotAPicture as wrong:
            section.refuse("file", Trouble(wrong.sentence, wrong.remedy, wrong.code), row["path"])
            continue
        files[row["path"]] = digest
        stored = {
            "image_id": things.known.new_id("image", "image_id"),
            "sha256": digest,
            "device_id": None,
            "credit": None,
            **row,
            **things.origin(section),
        }
        if same:
            things.pictures_again.append((stored, came_again("image", same[0], things.origin(section))))
            continue
        if any(mark in content for mark in _CAMERA_MARKS):
            camera = Trouble(
                "The image carries data its camera wrote (EXIF, XMP or the like), perhaps its place.",
                "The file is kept as it is; what is published of it must not carry them.",
                "image-metadata",
            )
            things.warnings.append(camera.at(*section.place, "file", row["path"]))
        if kind != "PNG":  # drawings are PNG; a photo may show more than was meant
            private = Trouble(
                "Does this photo show a serial number, an address (MAC), a network's name, a neighbour's too, a "
                "reflection or the view from a window?",
                "Cover it before you publish: what others have copied cannot be taken back.",
                "look-at-photo",
            )
            things.warnings.append(private.at(*section.place, "file", row["path"]))
        things.rows.setdefault("image", []).append(stored)


# Openings of the blocks in which JPEG, PNG and WebP files carry EXIF, XMP and IPTC data.
_CAMERA_MARKS = (
    b"Exif\x00\x00",
    b"eXIf",
    b"EXIF",
    b"http://ns.adobe.com/xap/1.0/",
    b"XML:com.adobe.xmp",
    b"Photoshop 3.0",
)


def _file(section: Section, folder: Folder, path: str | None, limit: int) -> bytes | None:
    if path is None:
        return None
    if (sentence := folder.refusal(path)) is not None:
        section.refuse("file", Trouble(sentence, "", "file"), path)
        return None
    try:
        return folder.read(path, limit=limit)
    except InputRefused as refusal:
        section.refuse("file", Trouble(str(refusal), "", "too-large"), path)
        return None


# Other tables of batch.toml -> the table that stores each, and its keys.
SPECS: Mapping[str, tuple[str, Mapping[str, Key]]] = {
    "batch": ("batch", _BATCH),
    "site": ("site", SITE),
    "article": ("article", _ARTICLE),
    "image": ("image", _IMAGE),
}

"""Batches as folders: batch.toml of the usual things, with what a test does not say filled in, and files beside it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import tomlkit

LINK = {"band": "5", "width_mhz": 80, "direction": "down"}
# Story 9 of the job analysis: 09:00 in New York, in daylight saving time (UTC-4), so 13:00 UTC.
EMBARGO = {"until": "2025-06-10T09:00", "timezone": "America/New_York", "covers": "existence"}
# A role that loads a page now and then.
PAGES = {
    "id": "pages",
    "kind": "pages",
    "target_ms": 1000,
    "target_share": 0.95,
    "resources": 27,
    "resource_kib": 44,
    "pause_s": [5, 20],
}


def things(**tables: Any) -> str:
    """Things for a batch.toml: a mapping is a [table], a list of them [[table]] each."""
    return tomlkit.dumps(tables)


def batch_toml(batch_id: str, **more: Any) -> str:
    """A whole batch.toml: its head, and *more* of what it holds."""
    head = {"format": 1, "id": batch_id, "title": "A bench", "timezone": "Europe/Berlin", "licence": "CC-BY-4.0"}
    return things(**head | more)


def radios(streams: int, max_width_mhz: int = 160) -> list[dict[str, Any]]:
    """One radio at 5 GHz."""
    return [{"band": "5", "streams": streams, "max_width_mhz": max_width_mhz}]


def device(device_id: str, **others: Any) -> dict[str, Any]:
    """A device with one radio, unit and firmware: "tessarik-shale-2" is Tessarik's Shale 2."""
    maker, _, model = device_id.partition("-")
    return {
        "id": device_id,
        "maker": maker.title(),
        "model": (model or maker).replace("-", " ").title(),
        "amendment": "802.11ax",
        "radio": radios(4),
        "unit": [{"id": "A", "origin": "bought"}],
        "firmware": [{"version": "1.0"}],
    } | others


def client(client_id: str, **others: Any) -> dict[str, Any]:
    """A client setup with one radio: "wrenlet-u2" is Wrenlet U2."""
    return {
        "id": client_id,
        "name": client_id.replace("-", " ").title(),
        "amendment": "802.11ax",
        "radio": radios(2),
    } | others


def session(session_id: str, day: str | None = None, *, house: str = "house-a", **others: Any) -> dict[str, Any]:
    """A session on a *day*, which its id says where nothing else does."""
    return {"id": session_id, "house": house, "date": date.fromisoformat(day or session_id)} | others


def article(article_id: str, file: str, *, published: str = "2025-06-01T10:00:00Z", **others: Any) -> dict[str, Any]:
    """An article that lies in a *file* of the batch."""
    return {"id": article_id, "title": article_id.title(), "published": published, "file": file} | others


def batch_at(folder: Path, text: str, files: Mapping[str, str | bytes] | None = None) -> Path:
    """Write a batch.toml and *files* by their path in the batch. Returns the folder."""
    for name, content in {"batch.toml": text, **(files or {})}.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder

"""The small catalogue with batches on top, to publish, correct, withdraw and hide."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

from builder.publishing.checking.links import BrokenLink, broken_among, files_below, page_links
from builder.publishing.making.publishing import publish_site, roll_back_site
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from tests import batches
from tests.batches import LINK, batch_at, batch_toml, session, things

ENTERED = datetime(2025, 9, 1, tzinfo=UTC)
# 09:00 in New York on 10 September 2025, in daylight saving time (UTC-4).
INSTANT = datetime(2025, 9, 10, 13, 0, 0, tzinfo=UTC)
SECOND_BEFORE = datetime(2025, 9, 10, 12, 59, 59, tzinfo=UTC)
EMBARGO = batches.EMBARGO | {"until": "2025-09-10T09:00"}
RUNS = "when,device,unit,firmware,spot,repeat,throughput_mbit_s,outcome,note\n"


def runs(*, device="quillmast-sill", unit="A", firmware="1.0", height=1705.0):
    """Three repeats at each of five spots; losses as in small_catalog.py, 20 Mbit/s a dB."""
    losses = {"S1": 46.0, "S2": 55.5, "S3": 64.0, "S4": 73.0, "S5": 82.0}
    return RUNS + "".join(
        f"2025-08-20T{9 + number:02}:{minute:02}:00Z,{device},{unit},{firmware},{spot},{minute + 1},"
        f"{height - 20 * loss + 3 * (minute - 1):.1f},finished,a note between us {number}\n"
        for number, (spot, loss) in enumerate(losses.items())
        for minute in range(3)
    )


def batch(
    folder: Path, id: str, *, more: str = "", title: str = "More tests", runs_csv: str | None = None, **files: str
):
    """Write a batch folder and return it. Runs get a day of their own, and what they have in common."""
    text = f"{batch_toml(id, title=title)}\n{more}\n"
    if runs_csv is not None:
        day, files["runs"] = f"day-{id}", runs_csv
        common = {"client": "wrenlet-u2", "driver": "3.11", "session": day, **LINK}
        text += things(session=[session(day, "2025-08-20")], defaults={"runs": common})
    return batch_at(folder / id, text, {f"{name}.csv": content for name, content in files.items()})


class Bench:
    """A catalogue of its own, and a place to publish it."""

    def __init__(self, original: Path, folder: Path, cache: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder, self.cache = folder, cache
        self.catalog, self.site = folder / "catalog.db", folder / "site"
        shutil.copy(original, self.catalog)

    def enter(self, place: Path):
        return enter_batch(place, into=self.catalog, now=ENTERED)

    def correct(self, *lines: str, now: datetime = ENTERED):
        path = self.folder / f"corrections-{len(list(self.folder.glob('corrections*')))}.csv"
        path.write_text("\n".join(["table,key,column,was,now,reason,noticed_by,date", *lines]) + "\n", encoding="utf-8")
        db = open_catalog(self.catalog, readonly=False)
        correct_file(path, catalog=db, now=now)
        db.close()

    def sql(self, statement: str):
        db = open_catalog(self.catalog, readonly=False)
        try:
            return db.execute(statement).fetchall()
        finally:
            db.close()

    def publish(self, as_of: datetime, *, now: datetime | None = None, **others):
        return publish_site(
            self.catalog,
            self.site,
            as_of=as_of,
            now=now or as_of,
            jobs=1,
            cache=self.cache,
            progress=lambda _: None,
            **others,
        )

    def roll_back(self, now: datetime) -> Path:
        return roll_back_site(self.site, catalog=self.catalog, now=now)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a site."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def broken_links(folder: Path, *, home: str = "") -> list[BrokenLink]:
    """The broken links of a site that lies in a folder; *home* as page_links has it."""
    pages = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*.html"))}
    links = {name: page_links(path.read_text(encoding="utf-8"), name, home=home) for name, path in pages.items()}
    return broken_among(links, files_below(folder))

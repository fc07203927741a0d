"""Words that no public page may hold at an instant: names and notes of what is under embargo then.

Worked out from the embargoes alone and not by catalog.visibility, so that a leak scan does not believe the very copy
it is to check.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlite_utils import Database

# Rows about hidden things, and their free text.
_TEXTS = {
    "run": ("note",), "station": ("note",), "longrun": ("note",), "feature": ("feature", "how", "evidence"),
    "heat": ("load",), "power": ("state",), "part": ("marking",), "image": ("alt", "credit"),
    "dispute": ("claim", "evidence"),
}  # fmt: skip
_WITH_UNIT = ("run", "station", "longrun", "heat", "power")
_WITH_FIRMWARE = ("run", "station", "longrun", "feature")


@dataclass(frozen=True)
class HiddenWords:
    """Texts, each once and in order.

    ids        of devices, articles, and units (those of four letters or more that no public unit has)
    names      (maker, model or alias) of devices; a maker of its own where every device of his is hidden
    firmware   versions of hidden firmware that no public firmware has
    notes      free text of hidden rows that no public row has too
    """

    ids: tuple[str, ...]
    names: tuple[tuple[str, str], ...]
    firmware: tuple[str, ...]
    notes: tuple[str, ...]


def hidden_words(db: Database, as_of: str) -> HiddenWords:
    """The words hidden at the instant *as_of* (UTC text) in a whole catalogue."""
    devices, public = _devices(db, as_of)
    names = [(maker, model) for device, maker, model in devices for model in (model, *_aliases(db, device))]
    makers = {maker for _, maker, _ in devices} - {maker for _, maker, _ in public}
    articles = db.execute("SELECT article_id FROM article WHERE published_utc > ?", [as_of]).fetchall()
    shown, secret = _notes(db, as_of, [device for device, _, _ in devices])
    return HiddenWords(
        ids=tuple(
            sorted({device for device, _, _ in devices} | {article for (article,) in articles} | _units(db, as_of))
        ),
        names=tuple(sorted(set(names) | {("", maker) for maker in makers})),
        firmware=tuple(sorted(_firmware(db, as_of, [device for device, _, _ in devices]))),
        notes=tuple(sorted(secret - shown)),
    )


def _devices(db: Database, as_of: str) -> tuple[list[tuple[str, str, str]], list[tuple[str, str, str]]]:
    """(id, maker, model) of the devices whose existence is hidden, and of the others."""
    hidden = """SELECT device_id FROM embargo WHERE subject = 'device' AND covers = 'existence' AND until_utc > :as_of
        UNION SELECT x.device_id FROM device AS x JOIN embargo AS e USING (batch_id)
               WHERE e.subject = 'batch' AND e.covers = 'existence' AND e.until_utc > :as_of
                 AND NOT EXISTS (SELECT 1 FROM row_again AS a WHERE a.table_name = 'device'
                                   AND a.first_batch = x.batch_id AND a.first_file = x.source_file
                                   AND a.first_row = x.source_row)"""
    found = [
        db.execute(
            f"SELECT device_id, maker, model FROM device WHERE device_id {word} ({hidden}) ORDER BY device_id",
            {"as_of": as_of},
        ).fetchall()
        for word in ("IN", "NOT IN")
    ]
    return found[0], found[1]


def _aliases(db: Database, device: str) -> list[str]:
    rows = db.execute("SELECT alias FROM device_alias WHERE device_id = ? ORDER BY alias", [device]).fetchall()
    return [alias for (alias,) in rows]


def _units(db: Database, as_of: str) -> set[str]:
    """Names of hidden units. "A" and "B" are everybody's."""
    under = _under("unit", covers="existence")
    found = db.execute(f"SELECT unit_id, {under} FROM unit AS x", [as_of]).fetchall()
    return {unit for unit, hidden in found if hidden and len(unit) >= 4} - {
        unit for unit, hidden in found if not hidden
    }


def _firmware(db: Database, as_of: str, devices: list[str]) -> set[str]:
    hidden = {
        tuple(row)
        for row in db.execute(
            """SELECT device_id, version FROM embargo
                WHERE subject = 'firmware' AND covers = 'existence' AND until_utc > ?""",
            [as_of],
        )
    }
    secret: set[str] = set()
    public: set[str] = set()
    for device, version in db.execute("SELECT device_id, version FROM firmware").fetchall():
        (secret if device in devices or (device, version) in hidden else public).add(version)
    return secret - public


def _notes(db: Database, as_of: str, devices: list[str]) -> tuple[set[str], set[str]]:
    """Free text of rows that may be seen, and of those that may not."""
    shown: set[str] = set()
    secret: set[str] = set()
    marks = ", ".join("?" * len(devices))
    for table, columns in _TEXTS.items():
        conditions = [f"x.device_id IN ({marks})", _under("device"), _under("batch", table)]
        conditions += [_under("unit")] if table in _WITH_UNIT else []
        conditions += [_under("firmware")] if table in _WITH_FIRMWARE else []
        values = [*devices, *[as_of] * (len(conditions) - 1)]
        own = ", ".join(f"x.{column}" for column in columns)
        rows = db.execute(f"SELECT {' OR '.join(conditions)}, {own} FROM {table} AS x", values).fetchall()
        for hidden, *texts in rows:
            (secret if hidden else shown).update(_spoken(texts))
        extras = db.execute(
            f"""SELECT {" OR ".join(conditions)}, n.typed FROM {table} AS x JOIN extra AS n
                  ON n.batch_id = x.batch_id AND n.source_file = x.source_file AND n.source_row = x.source_row""",
            values,
        ).fetchall()
        for hidden, text in extras:
            (secret if hidden else shown).update(_spoken([text]))
    return shown, secret


def _under(subject: str, table: str = "", *, covers: str = "") -> str:
    """SQL: the row x is under a running embargo on its *subject*, of the scope *covers* or any; takes the instant.

    A row that another batch brought too is not hidden by an embargo on the first: *table* says whose row it is.
    """
    key = {
        "device": "e.device_id = x.device_id",
        "unit": "e.device_id = x.device_id AND e.unit_id = x.unit_id",
        "firmware": "e.device_id = x.device_id AND e.version = x.firmware",
        "batch": f"""e.batch_id = x.batch_id AND NOT EXISTS (
            SELECT 1 FROM row_again AS a WHERE a.table_name = '{table}' AND a.first_batch = x.batch_id
               AND a.first_file = x.source_file AND a.first_row = x.source_row)""",
    }[subject]
    scope = f"AND e.covers = '{covers}'" if covers else ""
    return f"EXISTS (SELECT 1 FROM embargo AS e WHERE e.subject = '{subject}' AND {key} AND e.until_utc > ? {scope})"


def _spoken(texts: list[str | None]) -> Iterator[str]:
    """Texts of at least two words: shorter ones are nobody's secret and everybody's words."""
    for text in texts:
        if text and len(text.strip()) >= 8 and len(text.split()) > 1:
            yield " ".join(text.split())

"""Readings of the reference receiver as rows, and the epochs they make."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import fmean, stdev

from catalog.checking.guards import off_band
from catalog.checking.known import EVER, Known, Row
from catalog.checking.registering import twin
from catalog.checking.resolving import Resolver
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble
from catalog.dates import last_day
from catalog.queries.known import latest_run_day

ENOUGH_READINGS = 5
KEY = ("house_id", "spot", "band", "valid_from")


def reading_rows(table: TypedTable, resolver: Resolver) -> list[tuple[TypedRow, Row]]:
    """One row of spot_reading each. Readings of one spot, band and day are numbered in file order."""
    pairs = []
    counts: dict[tuple[object, ...], int] = {}
    for row in table.rows:
        house = resolver.house(table, row)
        if "+" in (row.values["band"] or ""):
            one = Trouble("A reading is of one band.", "Write one row for each band.", "unknown-band")
            table.hold(row, "band", one)
        values = {
            "house_id": house,
            **{name: row.values[name] for name in ("spot", "band", "valid_from")},
            **{name: row.values[name] for name in ("reference_eirp_dbm", "reading_dbm", "reference_source")},
            **{name: row.values[name] for name in ("reference_receiver", "channel", "distance_m", "obstacles")},
        }
        if values["reading_dbm"] is None and values["reference_eirp_dbm"] is None:
            values["valid_from"] = values["valid_from"] or EVER
        key = tuple(values[column] for column in KEY)
        counts[key] = counts.get(key, 0) + 1
        values["reading_number"] = row.values["reading_number"] or counts[key]
        channel, band = values["channel"], values["band"]
        if channel is not None and band is not None and (off := off_band(channel, band, None)) is not None:
            table.settle(row, "channel", off)
        if not row.held and (values["reading_dbm"] is None) != (values["reference_eirp_dbm"] is None):
            half = Trouble("A reading is what was sent and what was read.", "Give both, or none of them.", "missing")
            table.hold(row, "reading_dbm", half)
        if not row.held and values["reading_dbm"] is not None:
            loss = values["reference_eirp_dbm"] - values["reading_dbm"]
            if not 0 <= loss <= 130:
                impossible = Trouble(
                    f"{row.typed['reference_eirp_dbm']} dBm sent and {row.typed['reading_dbm']} dBm read "
                    f"would be a loss of {loss:g} dB.",
                    "A loss lies between 0 and 130 dB. Correct one of the two.",
                    "impossible-loss",
                )
                table.hold(row, "reading_dbm", impossible)
        pairs.append((row, values))
    return pairs


def check_epochs(readings: Iterable[tuple[TypedTable, TypedRow, Row]], known: Known) -> list[Row]:
    """The epochs of new readings. Attenuation is the mean of (EIRP - reading), the spread their standard deviation.

    Readings whose kit is not named belong to the one kit of their house. Readings of different kits in one
    epoch, or added to an epoch that results may rest on, hold their rows.
    """
    items = list(readings)
    kits = _kits_by_house([*(row for _, _, row in items), *known.of("epoch")])
    there_before = [*known.of("epoch"), *known.of("named_spot")]
    closed = {tuple(row[column] for column in KEY) for row in there_before}
    groups: dict[tuple[str, ...], list[tuple[TypedTable, TypedRow, Row]]] = {}
    for item in items:
        groups.setdefault(tuple(item[2][column] for column in KEY), []).append(item)
    epochs: list[Row] = []
    names: dict[str, set[str]] = {}
    for house, spot, _ in known.epochs:
        names.setdefault(house, set()).add(spot)
    for key, group in groups.items():
        table, first, _ = group[0]
        rows = [row for _, _, row in group]
        house, spot, band, since = key
        there = names.setdefault(house, set())
        if spot and spot not in there:
            like = twin(spot, "spot", there)
            there.add(spot)
            if like is not None and table.ask(first, "spot", like, options=like.options) is None:
                for _, typed, _ in group:
                    typed.held = True
                continue
        named = sorted({kit for row in rows if (kit := kit_of_reading(row)) is not None})
        if key in closed:
            later = Trouble(
                f"{spot} has its {band} GHz readings from {since} in the catalogue; results rest on them.",
                "Give new readings a valid_from of their own, or correct the old ones.",
                "epoch-closed",
            )
            _refuse(group, "valid_from", later)
            continue
        if known.db is not None and key[:3] in known.epochs:
            day = latest_run_day(known.db, house, spot, band)
            if day is not None and last_day(day) >= since:
                past = Trouble(
                    f"{spot} has results of {day}, which rest on an earlier {band} GHz epoch; this one would begin "
                    f"before them, on {since}.",
                    "A new epoch changes no old result. If the old readings were wrong, correct them.",
                    "epoch-in-the-past",
                )
                _refuse(group, "valid_from", past)
                continue
        if len(named) > 1:
            mixed = Trouble(
                f"The readings of {spot} from {since} name several kits: {', '.join(named)}.",
                "One epoch is read with one source and one receiver.",
                "several-kits",
            )
            _refuse(group, "reference_source", mixed)
            continue
        if not named and len(kits.get(house, ())) > 1:
            which = Trouble(
                f"{house} was read with several kits ({', '.join(sorted(kits[house]))}), and these readings name none.",
                "Name source and receiver.",
                "which-kit",
            )
            _refuse(group, "reference_source", which)
            continue
        if any(row["reading_dbm"] is None for row in rows):
            if any(row["reading_dbm"] is not None for row in rows):
                both = Trouble(
                    f"{spot} has a {band} GHz reading from {since} and a row without one.",
                    "Take away the row without a reading, or give it another valid_from.",
                    "missing",
                )
                _refuse(group, "reading_dbm", both)
                continue
            known.rows.setdefault("named_spot", []).extend(rows)
            only_named = Trouble(
                f"{spot} is named without a reading at {band} GHz: its results are compared at this spot only.",
                "A reading would say which loss it stands for, and compare them with other places of that loss.",
                "spot-only-named",
            )
            table.warn(first, "spot", only_named)
            continue
        if len(rows) < ENOUGH_READINGS:
            few = Trouble(
                f"{spot} has {len(rows)} reading{'s' * (len(rows) > 1)} at {band} GHz from {since}.",
                f"At least {ENOUGH_READINGS} steady the mean.",
                "few-readings",
            )
            table.warn(first, "reading_dbm", few)
        epochs.append(
            {
                "epoch_id": known.new_id("epoch", "epoch_id"),
                **dict(zip(KEY, key, strict=True)),
                **digest_of_readings(rows),
                "kit": (named or sorted(kits.get(house, ())) or [f"kit of {house}"])[0],
            }
        )
    return epochs


def _refuse(group: Iterable[tuple[TypedTable, TypedRow, Row]], column: str, trouble: Trouble) -> None:
    """Hold all readings of an epoch for one trouble, named at the first."""
    for place, (table, typed, _) in enumerate(group):
        if place == 0:
            table.hold(typed, column, trouble)
        typed.held = True


def digest_of_readings(rows: Sequence[Row]) -> Row:
    """The epoch that its readings give, without their kit."""
    losses = [row["reference_eirp_dbm"] - row["reading_dbm"] for row in rows]
    return {
        "attenuation_db": fmean(losses),
        "readings": len(losses),
        "readings_sd_db": stdev(losses) if len(losses) > 1 else None,
        "distance_m": next((row["distance_m"] for row in rows if row["distance_m"] is not None), None),
        "obstacles": next((row["obstacles"] for row in rows if row["obstacles"] is not None), None),
    }


def kit_of_reading(row: Row) -> str | None:
    """Source and receiver of a reading; None where it names neither."""
    parts = [part for part in (row.get("reference_source"), row.get("reference_receiver")) if part]
    return " + ".join(parts) or None


def _kits_by_house(rows: Iterable[Row]) -> dict[str, set[str]]:
    kits: dict[str, set[str]] = {}
    for row in rows:
        kit = row.get("kit") or kit_of_reading(row)
        if kit is not None and kit != f"kit of {row['house_id']}":
            kits.setdefault(row["house_id"], set()).add(kit)
    return kits

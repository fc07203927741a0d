"""Typed rows of each measured table as rows of the catalogue, names resolved, questions asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from catalog.checking import guards
from catalog.checking.cells import Attempt
from catalog.checking.known import Known, Row
from catalog.checking.longruns import what_was_logged
from catalog.checking.names import unknown
from catalog.checking.noted_figures import figures_noted
from catalog.checking.resolving import Resolver
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.summaries import summary_of
from catalog.checking.troubles import Trouble
from catalog.checking.withdrawals import subject_trouble
from catalog.method import MEASURING_PROCEDURE
from catalog.reading.format import FINISHED
from catalog.reading.progress import Progress, silent, told

LONGEST_SECURITY = 40
# Stem -> columns of free text in which words that differ only by case mean the same.
ONE_SPELLING: Mapping[str, tuple[str, ...]] = {
    "runs": ("security",),
    "features": ("feature",),
    "parts": ("block",),
    "prices": ("region", "condition"),
}

Pairs = list[tuple[TypedRow, Row]]
Builder = Callable[[TypedTable, TypedRow, Resolver, Known], Row]


def built(
    table: TypedTable, builder: Builder, resolver: Resolver, known: Known, *, progress: Progress = silent
) -> Pairs:
    """Every row of *table*; rows with a problem are held, but included because their siblings are compared with them."""
    rows = told(table.rows, progress, f"Checking the rows of {table.file}", every=1000)
    pairs = []
    for row in rows:
        _hold_other_spellings(table, row, known)
        pairs.append((row, builder(table, row, resolver, known)))
    return pairs


def _hold_other_spellings(table: TypedTable, row: TypedRow, known: Known) -> None:
    """Free-text words that become file names of the site have one spelling each."""
    for name in ONE_SPELLING.get(table.table.stem, ()):
        typed = row.values[name]
        if typed is None:
            continue
        if (other := known.other_spelling(BUILDERS[table.table.stem][0], name, typed)) is not None:
            case = Trouble(
                f"{typed!r} differs from {other!r}, which is known, only by case.", "Write it the same way.", "twin-id"
            )
            table.hold(row, name, case)


def run_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `run`, without its number."""
    values = row.values
    session, band = resolver.session(table, row), values["band"]
    place = resolver.epoch(table, row, session, band)
    if not row.held and values["spot"] is None and values["attenuation_db"] is None and values["level_dbm"] is None:
        nowhere = Trouble(
            "The row says neither spot nor attenuation nor level.",
            "Give one of them; a result without a place cannot be compared.",
            "no-place",
        )
        table.hold(row, "spot", nowhere)
    _ask_about_place(table, row, known, place)
    security = values["security"]
    if security is not None and not (security.isascii() and len(security) <= LONGEST_SECURITY):
        words = Trouble(
            f"{security!r} is not how a security is named: at most {LONGEST_SECURITY} plain letters, digits and signs.",
            "Write it such as WPA3-Personal, WPA2-Enterprise or open.",
            "security",
        )
        table.hold(row, "security", words)
    attempt = _attempt(table, row)
    run = {
        **_instant(values),
        **resolver.device(table, row),
        **resolver.client(table, row),
        "session_id": session,
        "settings_id": resolver.settings(table, row),
        **{name: values[name] for name in ("band", "channel", "width_mhz", "direction", "protocol", "flows")},
        "security": values["security"],
        "method": MEASURING_PROCEDURE,
        **place,
        "attenuation_db": values["attenuation_db"],
        "level_dbm": values["level_dbm"],
        **attempt,
        **summary_of(table, row, attempt["throughput_mbit_s"]),
        **{name: values[name] for name in ("seconds", "link_rate_mbit_s", "dfs_event", "note")},
        "log_path": values["log"],
    }
    hold_above_phy(table, row, run, known, run["throughput_mbit_s"])
    return run


def _ask_about_place(table: TypedTable, row: TypedRow, known: Known, place: Row) -> None:
    """Ask about contradictions in the place and channel of a run or station."""
    values = row.values
    channel, band, loss, repeat = (values.get(name) for name in ("channel", "band", "attenuation_db", "repeat"))
    troubles = []
    if channel is not None and band is not None:
        troubles.append(("channel", guards.off_band(channel, band, values["width_mhz"])))
    if loss is not None and repeat is not None:
        troubles.append(("attenuation_db", guards.loss_for_repeat(loss, repeat)))
    if loss is not None and (read_db := known.losses.get(place["epoch_id"])) is not None:
        troubles.append(("attenuation_db", guards.apart(place["spot"], read_db, loss)))
    for column, trouble in troubles:
        if trouble is not None:
            table.settle(row, column, trouble)


def hold_above_phy(table: TypedTable, row: TypedRow, run: Row, known: Known, value: float | None) -> None:
    """Hold a run or long run whose throughput, typed or from its log, is more than its radios can carry. [Mbit/s]"""
    band, width_mhz = run["band"], run["width_mhz"]
    if value is None or not (run["device_id"] and run["client_id"] and band and width_mhz):
        return
    device, client = known.devices[run["device_id"]], known.clients[run["client_id"]]
    ceiling = guards.phy_ceiling(device, client, band, width_mhz)
    typed = row.typed.get("throughput", "")
    impossible = guards.above_phy(value, ceiling, typed=typed, band=band, width_mhz=width_mhz)
    if impossible is not None:
        table.hold(row, "throughput" if typed else "log", impossible)


def _instant(values: Mapping[str, Any]) -> Row:
    when = values["when"]
    return {"at_utc": when.utc if when else None, "at_typed": when.typed if when else None}


def _attempt(table: TypedTable, row: TypedRow) -> Row:
    """Throughput and outcome of a run from its two cells; what they leave open is a question."""
    attempt: Attempt | None = row.values["throughput"]
    outcome: str | None = row.values["outcome"]
    typed = row.typed.get("throughput", "")
    value = attempt.mbit_s if attempt else None
    stated = attempt.outcome if attempt else None
    asked = "throughput" in row.typed and attempt is None  # already reported as a problem of its own
    if stated is not None and outcome is not None and stated != outcome:
        two = Trouble(
            f"The throughput says {stated!r}, the outcome {outcome!r}.", "Correct one of them.", "two-outcomes"
        )
        table.hold(row, "throughput", two)
        asked = True
    outcome = outcome or stated
    if value is None and outcome is None and not asked and row.values["log"] is None:
        open_question = Trouble(
            "Neither a throughput nor an outcome is given.",
            "Write the value, or did not finish, not possible, aborted or client fault; "
            "leave the row out if nobody tried.",
            "blank",
        )
        table.hold(row, "throughput", open_question)
    elif value is None and outcome == FINISHED and not asked and row.values["log"] is None:
        table.hold(
            row,
            "throughput",
            Trouble("A finished run has a throughput.", "Write it, or correct the outcome.", "missing"),
        )
    elif value == 0 and outcome is None and "throughput" not in row.sure:
        table.hold(row, "throughput", guards.zero(typed))
    elif value is not None and outcome not in (None, FINISHED):
        table.hold(row, "throughput", guards.value_and_outcome(outcome))
    return {
        "throughput_mbit_s": value,
        "throughput_typed": typed,
        "outcome": outcome or (FINISHED if value is not None else None),
    }


def station_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `station`, without its number."""
    values = row.values
    session = resolver.session(table, row)
    workload, version = _workload(table, row, known)
    roles = known.roles.get((workload, version), {}) if workload and version else {}
    role = values["role"]
    if roles and role is not None and role not in roles:
        register = f"Roles of {workload} version {version} are {', '.join(roles)}."
        table.hold(row, "role", unknown("role", role, roles, register=register))
    place = resolver.epoch(table, row, session, values["band"])
    _ask_about_place(table, row, known, place)
    if not row.held and values["spot"] is None and values["attenuation_db"] is None:
        nowhere = Trouble(
            "The row says neither at which spot the machine stood nor at which loss.",
            "Give one of them; a place nobody wrote down is like no other, so the run is shown and not compared.",
            "no-place",
        )
        table.warn(row, "spot", nowhere)
    planned, ended = values["planned_s"], values["ended_at_s"]
    if planned is not None and planned <= 0:
        table.hold(row, "planned_s", Trouble("A run is planned to last longer than 0 s.", "Correct it.", "too-small"))
    if planned is not None and ended is not None and ended > planned * 1.5 + 60:
        late = Trouble(
            f"It ended at {ended:g} s, but only {planned:g} s were planned.",
            "Correct one of them.",
            "too-large",
        )
        table.hold(row, "ended_at_s", late)
    return {
        "mix_id": values["mix"],
        "workload_id": workload,
        "workload_version": version,
        "role_id": role,
        **_instant(values),
        **resolver.device(table, row),
        **resolver.client(table, row),
        "session_id": session,
        "settings_id": resolver.settings(table, row),
        **{name: values[name] for name in ("band", "channel", "width_mhz")},
        "spot": place["spot"],
        **{name: values[name] for name in ("attenuation_db", "level_dbm", "planned_s", "planned_requests")},
        **figures_noted(table, row),
        **{name: values[name] for name in ("outcome", "ended_at_s", "ended_by")},
        "log_path": values["log"],
        "note": values["note"],
    }


def _workload(table: TypedTable, row: TypedRow, known: Known) -> tuple[str | None, int | None]:
    """Id and version; the newest version where none is named."""
    workload, version = row.values["workload"], row.values["workload_version"]
    if workload is None:
        return None, None
    versions = sorted(number for name, number in known.roles if name == workload)
    if not versions:
        names = {name for name, _ in known.roles}
        table.hold(row, "workload", unknown("workload", workload, names, register="Register it in batch.toml."))
        return None, None
    if version is None and len(versions) > 1:
        which = Trouble(f"{workload} has the versions {versions}.", "Name the one that was used.", "which-version")
        table.hold(row, "workload_version", which)
        return workload, None
    if version is not None and version not in versions:
        wrong = Trouble(f"{workload} has no version {version}.", f"It has {versions}.", "unknown-version")
        table.hold(row, "workload_version", wrong)
        return workload, None
    return workload, version or versions[0]


def longrun_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `longrun`, without its number."""
    values = row.values
    session = resolver.session(table, row)
    return {
        **_instant(values),
        **resolver.device(table, row),
        **resolver.client(table, row),
        "session_id": session,
        "settings_id": resolver.settings(table, row),
        **what_was_logged(table, row),
        "spot": resolver.epoch(table, row, session, values["band"])["spot"],
        "log_path": values["log"],
    }


def feature_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `feature`."""
    values = row.values
    if values["step"] == "works" and values["method"] is None:
        how = Trouble(
            '"works" is said without how it was tried.',
            "Fill in method; a data sheet alone is promised, not works.",
            "works-without-method",
        )
        table.hold(row, "method", how)
    return {
        **resolver.device(table, row),
        **{name: values[name] for name in ("feature", "step", "date", "licence", "evidence")},
        "how": values["method"],
    }


def heat_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `heat`, without its number."""
    values = row.values
    if values["ambient_c"] is None and not row.held:
        no_rise = Trouble("No ambient temperature is given.", "Without it there is no rise to compare.", "no-ambient")
        table.warn(row, "ambient_c", no_rise)
    return {
        **resolver.device(table, row),
        **{name: values[name] for name in ("face", "material", "reading_c", "ambient_c", "load", "minutes")},
        **{name: values[name] for name in ("emissivity", "mount")},
        "session_id": resolver.session(table, row),
        "settings_id": resolver.settings(table, row),
    }


def power_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `power`, without its number."""
    values = {name: row.values[name] for name in ("state", "watts", "side", "source_class", "cable_m")}
    return {**resolver.device(table, row), **values, "settings_id": resolver.settings(table, row)}


def part_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `part`, without its number."""
    names = ("revision", "block", "marking", "count", "read", "photo")
    return {**resolver.device(table, row), **{name: row.values[name] for name in names}}


def price_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `price`, without its number."""
    values = row.values
    currency = values["currency"]
    if currency is not None and not (len(currency) == 3 and currency.isascii() and currency.isalpha()):
        code = Trouble(
            f"{currency!r} is no currency code.",
            "Write three letters after ISO 4217, such as EUR.",
            "currency",
        )
        table.hold(row, "currency", code)
        currency = None
    return {
        **resolver.device(table, row),
        **{name: values[name] for name in ("date", "amount", "region", "tax_included", "condition")},
        "currency": currency.upper() if currency else None,
        "licence_per_year": values["licence_per_year"],
    }


def bridge_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `bridge`."""
    values = row.values
    old = resolver.client(table, row, "old_client", "old_driver")
    new = resolver.client(table, row, "new_client", "new_driver")
    attempt: Attempt | None = values["throughput"]
    if attempt is not None and attempt.mbit_s is None:
        no_value = Trouble("A bridge test is made of values.", "Leave rows without one out.", "missing")
        table.hold(row, "throughput", no_value)
    if values["spot"] is not None:
        resolver.spot_anywhere(table, row)
    return {
        "old_client": old["client_id"],
        "old_driver": old["driver"],
        "new_client": new["client_id"],
        "new_driver": new["driver"],
        **resolver.device(table, row),
        **{name: values[name] for name in ("band", "width_mhz", "direction", "spot", "side", "repeat")},
        **_instant(values),
        "throughput_mbit_s": attempt.mbit_s if attempt else None,
    }


def withdrawal_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `withdrawal`."""
    values = row.values
    what = str(values["what"] or "").casefold()
    if not row.held and (trouble := subject_trouble(what, values["id"], known)) is not None:
        table.hold(row, "what" if trouble.code == "unknown-word" else "id", trouble)
    return {
        "what": what,
        "id": values["id"],
        "from_date": values["from"],
        "reason": values["reason"],
    }


def dispute_row(table: TypedTable, row: TypedRow, resolver: Resolver, known: Known) -> Row:
    """A row of `dispute`, without its number."""
    values = row.values
    if values["figure"] is None and values["device"] is None and not row.held:
        about = Trouble("The dispute names neither a figure nor a device.", "Name one of them.", "missing")
        table.hold(row, "device", about)
    if values["state"] != "open" and not values["evidence"] and not values["retest"] and not row.held:
        why = Trouble(
            f"A dispute that is {values['state']} was decided, and nothing says by what.",
            "Write the reason into evidence, or name the retest.",
            "missing",
        )
        table.hold(row, "evidence", why)
    return {
        "figure": values["figure"],
        **resolver.device(table, row),
        "date": values["date"],
        "raised_by": values["by"],
        **{name: values[name] for name in ("claim", "state", "evidence", "retest")},
    }


# Stem -> (table of the catalogue, its builder, the number column it counts by).
BUILDERS: Mapping[str, tuple[str, Builder, str | None]] = {
    "runs": ("run", run_row, "run_id"),
    "stations": ("station", station_row, "station_id"),
    "longruns": ("longrun", longrun_row, "longrun_id"),
    "features": ("feature", feature_row, None),
    "heat": ("heat", heat_row, "heat_id"),
    "power": ("power", power_row, "power_id"),
    "parts": ("part", part_row, "part_id"),
    "prices": ("price", price_row, "price_id"),
    "bridges": ("bridge", bridge_row, None),
    "withdrawals": ("withdrawal", withdrawal_row, None),
    "disputes": ("dispute", dispute_row, "dispute_id"),
}

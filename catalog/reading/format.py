"""Batch format 1: the tables, their columns, and the spellings that are taken for them.

The one list that reading, checking, the skeleton of a new batch and the export share.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from catalog.reading.columns import NOTED, SUMMARY, Column, same
from catalog.units import CELSIUS, DB, DBM, MBIT_S, METRES, MHZ, MILLISECONDS, MINUTES, SECONDS, WATTS, Unit

FORMAT = 1

FINISHED = "finished"
DID_NOT_FINISH = "did not finish"
PLANNED = "planned"  # the outcome of a row that is still to be measured; such a row is never entered
FROM_LOG = "from the log"  # stands for what was typed where the log gave the throughput
OUTCOME_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "finished": FINISHED,
        "ok": FINISHED,
        "did not finish": DID_NOT_FINISH,
        "dnf": DID_NOT_FINISH,
        "crash": DID_NOT_FINISH,
        "crashed": DID_NOT_FINISH,
        "collapse": DID_NOT_FINISH,
        "collapsed": DID_NOT_FINISH,
        "client fault": "client fault",
        "aborted": "aborted",
        "abort": "aborted",
        "not possible": "not possible",
        "impossible": "not possible",
    }
)
DIRECTION_WORDS: Mapping[str, str] = MappingProxyType(
    {"down": "down", "dl": "down", "downlink": "down", "download": "down"}
    | {"up": "up", "ul": "up", "uplink": "up", "upload": "up"}
)


@dataclass(frozen=True)
class Table:
    """One table of the format: its file stem and its columns in the order of an export."""

    stem: str
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """The column called *name*. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


def _text(name: str, *synonyms: str, required: bool = False) -> Column:
    return Column(name=name, required=required, synonyms=synonyms)


def _name(name: str, *synonyms: str, required: bool = False) -> Column:
    """A text that names a thing: 1.1 and 1.10 are two."""
    return Column(name=name, required=required, synonyms=synonyms, as_number="whole")


def _version(name: str, *synonyms: str, required: bool = False) -> Column:
    """A text in which 7 and 7.0 are two."""
    return Column(name=name, required=required, synonyms=synonyms, as_number="none")


def _number(
    name: str,
    *synonyms: str,
    unit: Unit | None = None,
    low: float | None = None,
    high: float | None = None,
    required: bool = False,
) -> Column:
    return Column(name=name, kind="number", unit=unit, low=low, high=high, required=required, synonyms=synonyms)


def _count(name: str, *synonyms: str, required: bool = False, low: float = 1) -> Column:
    return Column(name=name, kind="count", low=low, high=1e9, required=required, synonyms=synonyms)


def _choice(name: str, *synonyms: str, choices: Mapping[str, str], required: bool = False) -> Column:
    return Column(name=name, kind="choice", choices=choices, required=required, synonyms=synonyms)


_DEVICE = _name("device", "access point", "ap", "dut", required=True)
_UNIT = _name("unit", "sample", "piece")
_FIRMWARE = _version("firmware", "fw", "firmware version", "fw version", required=True)
_CLIENT = _name("client", "adapter", "client setup", "station", required=True)
_DRIVER = _version("driver", "driver version", "client driver")
_SESSION = _name("session", "bench day", "lab day", required=True)
_SETTINGS = _name("settings", "setting", "test settings", "conditions")
_BAND = Column(name="band", kind="band", required=True, synonyms=("frequency band",))
_CHANNEL = Column(name="channel", kind="count", low=1, high=233, synonyms=("ch", "chan"))
_WIDTH = Column(
    name="width_mhz",
    kind="count",
    required=True,
    unit=MHZ,
    low=20,
    high=320,
    synonyms=("width", "channel width", "bandwidth", "bw"),
)
_DIRECTION = _choice("direction", "dir", choices=DIRECTION_WORDS, required=True)
_LEVEL = Column(name="level_dbm", kind="level", unit=DBM, synonyms=("level", "rssi", "signal", "received level"))
_WHEN = Column(
    name="when",
    kind="when",
    required=True,
    synonyms=("time", "started", "start", "date and time", "timestamp"),
)
_ZONE = _text("timezone", "time zone", "tz")
_REPEAT = _count("repeat", "rep", "run no", "repetition", "run number", required=True)
_LOG = Column(name="log", kind="file", synonyms=("log file", "logfile"))
_NOTE = _text("note", "notes", "remark", "remarks", "comment")
_OUTCOME = _choice("outcome", "result", "status", choices=OUTCOME_WORDS)
_THROUGHPUT = Column(
    name="throughput", kind="throughput", unit=MBIT_S, low=0, synonyms=("rate", "speed", "goodput", "tput")
)
_ATTENUATION = _number("attenuation_db", "attenuation", "loss", "path loss", unit=DB, low=0, high=130)
_STEPS = same("promised", "present", "switchable", "on from the box", "seen on air", "works", "fails", "not tested")


def _optional(column: Column) -> Column:
    return replace(column, required=False)


def _required(column: Column) -> Column:
    return replace(column, required=True)


TABLES: Mapping[str, Table] = MappingProxyType(
    {
        table.stem: table
        for table in (
            Table(
                "spots",
                (
                    _name("house", required=True),
                    _name("spot", "place", required=True),
                    _BAND,
                    Column(name="valid_from", kind="date", required=True, synonyms=("since", "from")),
                    _number("reference_eirp_dbm", "reference eirp", "eirp", unit=DBM, low=-40, high=60, required=True),
                    Column(
                        name="reading_dbm",
                        kind="level",
                        unit=DBM,
                        required=True,
                        synonyms=("reading", "level", "rssi", "signal"),
                    ),
                    _text("reference_source", "source"),
                    _text("reference_receiver", "receiver"),
                    _CHANNEL,
                    _number("distance_m", "distance", unit=METRES, low=0, high=10_000),
                    _text("obstacles", "obstacle", "walls"),
                    _count("reading_number", "reading no"),
                ),
            ),
            Table(
                "runs",
                (
                    _WHEN,
                    _DEVICE,
                    _UNIT,
                    _FIRMWARE,
                    _CLIENT,
                    _DRIVER,
                    _SESSION,
                    _SETTINGS,
                    _BAND,
                    _CHANNEL,
                    _WIDTH,
                    _DIRECTION,
                    _choice("protocol", choices=same("tcp", "udp")),
                    _count("flows", "streams", "parallel flows", "parallel streams"),
                    _text("security", "encryption"),
                    _name("spot", "place"),
                    _ATTENUATION,
                    _LEVEL,
                    replace(_REPEAT, unless="of_runs"),
                    _THROUGHPUT,
                    *SUMMARY,
                    _number("seconds", "duration", "length", unit=SECONDS, low=0.001),
                    _number("link_rate_mbit_s", "link rate", "phy rate", unit=MBIT_S, low=0),
                    Column(name="dfs_event", kind="yesno", synonyms=("dfs", "radar")),
                    _LOG,
                    _OUTCOME,
                    _NOTE,
                    _ZONE,
                ),
            ),
            Table(
                "stations",
                (
                    _name("mix", "mix id", required=True),
                    _name("workload", required=True),
                    _count("workload_version"),
                    _WHEN,
                    _DEVICE,
                    _UNIT,
                    _FIRMWARE,
                    _CLIENT,
                    _DRIVER,
                    _SESSION,
                    _SETTINGS,
                    _name("role", required=True),
                    _BAND,
                    _CHANNEL,
                    _optional(_WIDTH),
                    _name("spot", "place"),
                    _ATTENUATION,
                    _LEVEL,
                    _number("planned_s", "planned", unit=SECONDS, low=0, required=True),
                    _count("planned_requests", low=0),
                    *NOTED,
                    _required(_OUTCOME),
                    _number("ended_at_s", "ended at", unit=SECONDS, low=0),
                    _text("ended_by"),
                    _LOG,
                    _NOTE,
                    _ZONE,
                ),
            ),
            Table(
                "longruns",
                (
                    _WHEN,
                    _DEVICE,
                    _UNIT,
                    _FIRMWARE,
                    _CLIENT,
                    _DRIVER,
                    _SESSION,
                    _SETTINGS,
                    _choice("kind", choices=same("throughput", "requests")),
                    _BAND,
                    _WIDTH,
                    _optional(_DIRECTION),
                    _name("spot", "place"),
                    _number("mark_ms", "mark", unit=MILLISECONDS, low=0.001),
                    _required(_LOG),
                    _required(_OUTCOME),
                    _NOTE,
                    _ZONE,
                ),
            ),
            Table(
                "features",
                (
                    _DEVICE,
                    _text("feature", required=True),
                    _choice("step", choices=_STEPS, required=True),
                    _FIRMWARE,
                    Column(name="date", kind="date", required=True),
                    _text("licence", "license"),
                    _text("method", "how"),
                    _text("evidence"),
                ),
            ),
            Table(
                "heat",
                (
                    _DEVICE,
                    _UNIT,
                    _text("face", required=True),
                    _choice("material", choices=same("metal", "plastic", "glass", "other"), required=True),
                    _number("reading_c", "reading", "surface", unit=CELSIUS, low=-40, high=200, required=True),
                    _number("ambient_c", "ambient", "room", unit=CELSIUS, low=-40, high=80),
                    _text("load", required=True),
                    _number("minutes", unit=MINUTES, low=0, required=True),
                    _number("emissivity", low=0.01, high=1),
                    _text("mount"),
                    _name("session", "bench day", "lab day"),
                    _SETTINGS,
                ),
            ),
            Table(
                "power",
                (
                    _DEVICE,
                    _UNIT,
                    _text("state", required=True),
                    _number("watts", "power", "draw", unit=WATTS, low=0, high=1000, required=True),
                    _choice("side", choices=same("supply", "device"), required=True),
                    _count("source_class", "class", low=0),
                    _number("cable_m", "cable", "cable length", unit=METRES, low=0, high=200),
                    _SETTINGS,
                ),
            ),
            Table(
                "parts",
                (
                    _DEVICE,
                    _version("revision"),
                    _text("block", "function", required=True),
                    _version("marking", required=True),
                    _count("count", low=0),
                    _choice("read", choices=same("read", "inferred"), required=True),
                    _text("photo"),
                ),
            ),
            Table(
                "prices",
                (
                    _DEVICE,
                    Column(name="date", kind="date", required=True),
                    _number("amount", "price", low=0, required=True),
                    _text("currency", required=True),
                    _text("region", "country"),
                    Column(name="tax_included", kind="yesno", synonyms=("tax",)),
                    _text("condition"),
                    _number("licence_per_year", "license per year", low=0),
                ),
            ),
            Table(
                "bridges",
                (
                    _name("old_client", required=True),
                    _version("old_driver"),
                    _name("new_client", required=True),
                    _version("new_driver"),
                    _DEVICE,
                    _BAND,
                    _WIDTH,
                    _DIRECTION,
                    _name("spot", "place", required=True),
                    _WHEN,
                    _choice("side", choices=same("old", "new"), required=True),
                    _REPEAT,
                    _required(_THROUGHPUT),
                    _ZONE,
                ),
            ),
            Table(
                "withdrawals",
                (
                    _text("what", required=True),
                    _name("id", required=True),
                    Column(name="from", kind="date", required=True),
                    _text("reason", required=True),
                ),
            ),
            Table(
                "disputes",
                (
                    _text("figure"),
                    _name("device", "access point", "ap"),
                    Column(name="date", kind="date", required=True),
                    _text("by", "raised by", required=True),
                    _text("claim", required=True),
                    _choice("state", choices=same("open", "upheld", "partly", "not upheld"), required=True),
                    _text("evidence"),
                    _text("retest"),
                ),
            ),
        )
    }
)
"""Every table by its stem, in the order in which they can be entered."""

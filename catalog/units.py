"""Units: the one each quantity is kept in, how they convert, and what a typed spelling means.

Every conversion is a ratio of whole numbers, so 0.9 Gbit/s is 900 Mbit/s and not 899.9999999.
A spelling with two readings is never settled here: `possible_units` gives both and the caller asks.
Decimal prefixes and bit, byte, KiB, MiB as in IEC 80000-13:2008; dB, dBm, °C as in ISO 80000.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType


@dataclass(frozen=True)
class Unit:
    """A unit and its size in the canonical unit of its quantity.

    name      as printed, for example "Mbit/s"
    quantity  what it measures; only units of one quantity convert into each other
    size      how many canonical units one of these is. [canonical unit]
    """

    name: str
    quantity: str
    size: Fraction


MBIT_S = Unit("Mbit/s", "rate", Fraction(1))
BYTES = Unit("B", "data", Fraction(1))
MILLISECONDS = Unit("ms", "time", Fraction(1))
SECONDS = Unit("s", "time", Fraction(1000))
MINUTES = Unit("min", "time", Fraction(60_000))
DB = Unit("dB", "loss", Fraction(1))
DBM = Unit("dBm", "level", Fraction(1))
MHZ = Unit("MHz", "frequency", Fraction(1))
CELSIUS = Unit("°C", "temperature", Fraction(1))
KELVIN = Unit("K", "temperature difference", Fraction(1))
WATTS = Unit("W", "power", Fraction(1))
METRES = Unit("m", "length", Fraction(1))
PERCENT = Unit("%", "share", Fraction(1))

_PREFIXES: Mapping[str, int] = MappingProxyType(
    {"": 1, "k": 10**3, "M": 10**6, "G": 10**9, "Ki": 2**10, "Mi": 2**20, "Gi": 2**30}
)


def _digital_units() -> list[Unit]:
    """Every prefix with bit and byte, as an amount and per second."""
    units = []
    for prefix, factor in _PREFIXES.items():
        for symbol, bits in (("bit", 1), ("B", 8)):
            units.append(Unit(f"{prefix}{symbol}/s", "rate", Fraction(factor * bits, 10**6)))
            units.append(Unit(f"{prefix}{symbol}", "data", Fraction(factor * bits, 8)))
    return units


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        unit.name: unit
        for unit in (
            *_digital_units(),
            Unit("ns", "time", Fraction(1, 10**6)),
            Unit("µs", "time", Fraction(1, 1000)),
            MILLISECONDS,
            SECONDS,
            MINUTES,
            Unit("h", "time", Fraction(3_600_000)),
            DB,
            DBM,
            Unit("Hz", "frequency", Fraction(1, 10**6)),
            Unit("kHz", "frequency", Fraction(1, 1000)),
            MHZ,
            Unit("GHz", "frequency", Fraction(1000)),
            CELSIUS,
            KELVIN,
            Unit("mW", "power", Fraction(1, 1000)),
            WATTS,
            Unit("cm", "length", Fraction(1, 100)),
            METRES,
            PERCENT,
        )
    }
)
"""Every unit the catalogue reads, by its printed name."""

CANONICAL: Mapping[str, Unit] = MappingProxyType({unit.quantity: unit for unit in UNITS.values() if unit.size == 1})
"""The unit each quantity is kept in, by quantity."""

# Spellings whose letter case says nothing, folded to small letters and without spaces.
_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "ns": ("ns", "nsec", "nanosecond", "nanoseconds"),
        "µs": ("us", "μs", "usec", "microsecond", "microseconds"),
        "ms": ("ms", "msec", "millisecond", "milliseconds"),
        "s": ("s", "sec", "secs", "second", "seconds"),
        "min": ("min", "mins", "minute", "minutes"),
        "h": ("h", "hr", "hrs", "hour", "hours"),
        "dB": ("db", "decibel", "decibels"),
        "dBm": ("dbm", "dbmw", "db(m)", "db(mw)"),
        "Hz": ("hz", "hertz"),
        "kHz": ("khz", "kilohertz"),
        "MHz": ("mhz", "megahertz"),
        "GHz": ("ghz", "gigahertz"),
        "°C": ("°c", "c", "degc", "cel", "celsius", "degreescelsius"),
        "K": ("kelvin", "kelvins"),
        "W": ("w", "watt", "watts"),
        "mW": ("milliwatt", "milliwatts"),
        "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
        "m": ("metre", "metres", "meter", "meters"),
        "%": ("%", "percent", "pct"),
    }
)
_SPELLINGS = {word: name for name, words in _WORDS.items() for word in words}
# Spellings that would mean another unit in the other case (MW, M, k), so they count only as written.
_AS_WRITTEN = frozenset({"mW", "m", "K"})

_DIGITAL = re.compile(
    r"(?P<prefix>kilo|mega|giga|kibi|mebi|gibi|ki|mi|gi|k|m|g)?"
    r"(?P<what>bits?|bytes?|octets?|b)"
    r"(?P<rate>(?:/|_|per)(?:seconds?|secs?|s)|ps)?",
    re.IGNORECASE,
)
_LONG_PREFIXES = {"kilo": "k", "mega": "M", "giga": "G", "kibi": "Ki", "mebi": "Mi", "gibi": "Gi"}


def possible_units(text: str) -> tuple[Unit, ...]:
    """Every unit that the spelling *text* can mean: none when unknown, two when its case decides nothing.

    A lone b is bit and a lone B is byte ("Mb/s", "MB/s"), but only where the case of the other letters shows that
    it was minded: not in a text all in capitals ("MBPS"), nor beside a small m or g ("mb/s", "mB/s"), where people
    write either for either. "mbps" stays Mbit/s: "bps" is the word for bits per second, whatever its case elsewhere.
    """
    typed = re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))
    if typed in _AS_WRITTEN:
        return (UNITS[typed],)
    if name := _SPELLINGS.get(typed.casefold()):
        return (UNITS[name],)
    match = _DIGITAL.fullmatch(typed)
    if match is None:
        return ()
    prefix = (match["prefix"] or "").lower()
    prefix = _LONG_PREFIXES.get(prefix) or (prefix if prefix[:1] in ("", "k") else prefix.capitalize())
    prefix = prefix.capitalize() if prefix.endswith("i") else prefix
    per_second = "/s" if match["rate"] else ""
    bit, byte = UNITS[f"{prefix}bit{per_second}"], UNITS[f"{prefix}B{per_second}"]
    what = match["what"]
    if len(what) > 1:
        return (bit,) if what.lower().startswith("bit") else (byte,)
    rate = match["rate"] or ""
    all_capitals = typed.isupper() and rate
    careless = (typed[0] in "mg" and rate[:1] in ("/", "_")) or "S" in rate[1:]
    if all_capitals or careless or (prefix.endswith("i") and typed.islower()):
        return (bit, byte)
    return (bit,) if what == "b" else (byte,)


def parse_unit(text: str) -> Unit | None:
    """The unit that the spelling *text* means, or None when it is unknown or has two readings."""
    units = possible_units(text)
    return units[0] if len(units) == 1 else None


def ratio(source: Unit, target: Unit) -> Fraction:
    """How many *target* units one *source* unit is, exactly. For arrays: values * numerator / denominator.

    Raises  ValueError when the two measure different quantities.
    """
    if source.quantity != target.quantity:
        raise ValueError(f"{source.name} measures {source.quantity} and {target.name} {target.quantity}")
    return source.size / target.size


def convert(value: float, source: Unit, target: Unit) -> float:
    """*value* given in *source* units, in *target* units.

    Raises  ValueError when the two measure different quantities.
    """
    exact = ratio(source, target)
    return value * exact.numerator / exact.denominator


def without_unit(name: str, unit: Unit | None) -> str:
    """A name in words without the unit that it ends in: "attenuation" of "attenuation db"."""
    if unit is None:
        return name
    return name.removesuffix(" " + re.sub(r"[/°]", " ", unit.name).strip().casefold())

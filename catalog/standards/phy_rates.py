"""PHY rates of IEEE 802.11n, ac, ax and be: the most a link can carry, whatever the radio says.

Clause numbers are from memory; the rates themselves were checked against an independent table.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from catalog.standards.sources import Source


@dataclass(frozen=True, kw_only=True)
class Phy:
    """The rate parameters of one amendment.

    name              HT, VHT, HE or EHT
    symbol_ns         length of a symbol without its guard interval. [ns]
    guards_ns         guard intervals, shortest first. [ns]
    data_subcarriers  N_SD by channel width. [1, MHz]
    mcs_count         modulation and coding schemes of one stream, 0 to mcs_count - 1. [1]
    max_streams       spatial streams of one station. [1]
    """

    name: str
    symbol_ns: int
    guards_ns: tuple[int, ...]
    data_subcarriers: Mapping[int, int]
    mcs_count: int
    max_streams: int
    source: Source


PHYS: Mapping[str, Phy] = MappingProxyType(
    {
        "802.11n": Phy(
            name="HT",
            symbol_ns=3200,
            guards_ns=(400, 800),
            data_subcarriers=MappingProxyType({20: 52, 40: 108}),
            mcs_count=8,
            max_streams=4,
            source=Source("IEEE 802.11-2020", "19.5", "verified"),
        ),
        "802.11ac": Phy(
            name="VHT",
            symbol_ns=3200,
            guards_ns=(400, 800),
            data_subcarriers=MappingProxyType({20: 52, 40: 108, 80: 234, 160: 468}),
            mcs_count=10,
            max_streams=8,
            source=Source("IEEE 802.11-2020", "21.5", "verified"),
        ),
        "802.11ax": Phy(
            name="HE",
            symbol_ns=12_800,
            guards_ns=(800, 1600, 3200),
            data_subcarriers=MappingProxyType({20: 234, 40: 468, 80: 980, 160: 1960}),
            mcs_count=12,
            max_streams=8,
            source=Source("IEEE 802.11ax-2021", "27.5", "verified"),
        ),
        "802.11be": Phy(
            name="EHT",
            symbol_ns=12_800,
            guards_ns=(800, 1600, 3200),
            data_subcarriers=MappingProxyType({20: 234, 40: 468, 80: 980, 160: 1960, 320: 3920}),
            mcs_count=14,
            max_streams=8,
            source=Source("IEEE 802.11be-2024", "36.5", "verified"),
        ),
    }
)
"""Rate parameters by amendment, oldest first."""

# Coded bits of a subcarrier (N_BPSCS) and code rate (R) by MCS of one stream; the same list in all four.
_MCS: tuple[tuple[int, Fraction], ...] = (
    (1, Fraction(1, 2)),
    (2, Fraction(1, 2)),
    (2, Fraction(3, 4)),
    (4, Fraction(1, 2)),
    (4, Fraction(3, 4)),
    (6, Fraction(2, 3)),
    (6, Fraction(3, 4)),
    (6, Fraction(5, 6)),
    (8, Fraction(3, 4)),
    (8, Fraction(5, 6)),
    (10, Fraction(3, 4)),
    (10, Fraction(5, 6)),
    (12, Fraction(3, 4)),
    (12, Fraction(5, 6)),
)

# Width, streams and MCS that 802.11ac leaves out. Table-driven in the standard; no rule gives them all.
_VHT_LEFT_OUT = frozenset(
    {
        *((20, streams, 9) for streams in (1, 2, 4, 5, 7, 8)),
        (80, 3, 6),
        (80, 7, 6),
        (80, 6, 9),
        (160, 3, 9),
    }
)


def phy_rate_mbit_s(amendment: str, *, width_mhz: int, streams: int, mcs: int, guard_ns: int) -> float:
    """PHY rate N_SD * N_BPSCS * R * N_SS / (T_DFT + T_GI). [Mbit/s]

    amendment  "802.11n", "802.11ac", "802.11ax" or "802.11be"
    width_mhz  channel width the amendment has. [MHz]
    streams    1 to the amendment's most. [1]
    mcs        of one stream, so 0 to 7 for 802.11n whatever the streams. [1]
    guard_ns   guard interval the amendment has. [ns]
    Raises     ValueError for an amendment, width, streams, mcs or guard interval that does not exist.
    Source     IEEE 802.11-2020, 19.5 and 21.5; 802.11ax-2021, 27.5; 802.11be-2024, 36.5.
    """
    phy = require_amendment(amendment)
    _require_width_and_streams(amendment, width_mhz, streams)
    if not 0 <= mcs < phy.mcs_count:
        raise ValueError(f"{amendment} has MCS 0 to {phy.mcs_count - 1}, got {mcs}")
    if guard_ns not in phy.guards_ns:
        raise ValueError(f"{amendment} has guard intervals of {phy.guards_ns} ns, got {guard_ns}")
    bits, code_rate = _MCS[mcs]
    bits_per_symbol = phy.data_subcarriers[width_mhz] * bits * streams * code_rate
    return float(bits_per_symbol * 1000 / (phy.symbol_ns + guard_ns))


def phy_ceiling_mbit_s(amendment: str, streams: int, width_mhz: int) -> float:
    """Highest PHY rate of an amendment with *streams* streams on a channel of *width_mhz*. [Mbit/s]

    Takes the shortest guard interval and the highest MCS, also where `vht_combination_exists` says no:
    devices use those, and a ceiling that is a little too high refuses nothing that is possible.

    Raises  ValueError for an amendment, width or number of streams that does not exist.
    Source  as `phy_rate_mbit_s`.
    """
    phy = require_amendment(amendment)
    return phy_rate_mbit_s(
        amendment, width_mhz=width_mhz, streams=streams, mcs=phy.mcs_count - 1, guard_ns=phy.guards_ns[0]
    )


def vht_combination_exists(*, width_mhz: int, streams: int, mcs: int) -> bool:
    """Whether 802.11ac defines the combination; a link rate by one it leaves out is odd, not impossible.

    Source  IEEE 802.11-2020, 21.5; the ten left out agree with public lists of the tables.
    """
    return (width_mhz, streams, mcs) not in _VHT_LEFT_OUT


def require_amendment(amendment: str) -> Phy:
    if amendment not in PHYS:
        raise ValueError(f"amendment must be one of {', '.join(PHYS)}, got {amendment!r}")
    return PHYS[amendment]


def _require_width_and_streams(amendment: str, width_mhz: int, streams: int) -> None:
    phy = PHYS[amendment]
    if width_mhz not in phy.data_subcarriers:
        widths = ", ".join(map(str, phy.data_subcarriers))
        raise ValueError(f"{amendment} has widths of {widths} MHz, got {width_mhz}")
    if not 1 <= streams <= phy.max_streams:
        raise ValueError(f"{amendment} has 1 to {phy.max_streams} streams, got {streams}")

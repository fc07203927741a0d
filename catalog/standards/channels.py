"""Bands, channel widths, channel numbers, and the sub-bands in which allowed power usually differs."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from catalog.standards.phy_rates import require_amendment

BANDS: tuple[str, ...] = ("2.4", "5", "6")
"""Bands by the name a batch uses. [GHz]"""

# Widths of an amendment in a band. 802.11ac is defined for 5 GHz only: such a device works by 802.11n at
# 2.4 GHz, hence 20 and 40 MHz there. 802.11n and 802.11ac may not be used at 6 GHz.
_WIDTHS: Mapping[str, Mapping[str, tuple[int, ...]]] = MappingProxyType(
    {
        "802.11n": {"2.4": (20, 40), "5": (20, 40), "6": ()},
        "802.11ac": {"2.4": (20, 40), "5": (20, 40, 80, 160), "6": ()},
        "802.11ax": {"2.4": (20, 40), "5": (20, 40, 80, 160), "6": (20, 40, 80, 160)},
        "802.11be": {"2.4": (20, 40), "5": (20, 40, 80, 160), "6": (20, 40, 80, 160, 320)},
    }
)


def allowed_widths_mhz(amendment: str, band: str) -> tuple[int, ...]:
    """Channel widths a device of *amendment* can use in *band*, narrowest first. [MHz]

    Empty where it has no radio for the band, as 802.11n and 802.11ac at 6 GHz.

    Raises  ValueError for an unknown amendment or band.
    Source  IEEE 802.11-2020, 19.3.15 and 21.3.14; 802.11ax-2021, 27.3.23; 802.11be-2024, 36.3.24 (clauses
            from memory).
    """
    require_amendment(amendment)
    _require_band(band)
    return _WIDTHS[amendment][band]


@dataclass(frozen=True)
class PowerClass:
    """A run of channels for which power limits are usually one rule, and usually another than next door."""

    name: str
    band: str
    first_channel: int
    last_channel: int


POWER_CLASSES: tuple[PowerClass, ...] = (
    PowerClass("2400–2483.5 MHz", "2.4", 1, 13),
    PowerClass("2471–2497 MHz", "2.4", 14, 14),
    PowerClass("5150–5250 MHz", "5", 36, 48),
    PowerClass("5250–5350 MHz", "5", 50, 64),
    PowerClass("5470–5725 MHz", "5", 100, 144),
    PowerClass("5725–5850 MHz", "5", 149, 167),
    PowerClass("5850–5895 MHz", "5", 169, 177),
    PowerClass("5925–6425 MHz", "6", 1, 93),
    PowerClass("6425–6525 MHz", "6", 95, 113),
    PowerClass("6525–6875 MHz", "6", 115, 183),
    PowerClass("6875–7125 MHz", "6", 185, 233),
)
"""Sub-bands as most regulatory domains divide them (memory): a hint that two channels may differ in allowed
power, never a statement of what a country allows. A wide channel that lies across an edge is counted by the
number it is known by."""


def _channels(first: int, last: int, step: int) -> range:
    return range(first, last + 1, step)


# Numbers of channels by width, those of wide ones being their centres; reviewers write either. At 2.4 GHz the centre
# of a 40 MHz channel has the number of a 20 MHz one.
_CHANNELS_BY_WIDTH: Mapping[str, Mapping[int, frozenset[int]]] = MappingProxyType(
    {
        "2.4": {20: frozenset(_channels(1, 14, 1)), 40: frozenset(_channels(3, 11, 1))},
        "5": {
            20: frozenset({*_channels(36, 64, 4), *_channels(100, 144, 4), *_channels(149, 177, 4)}),
            40: frozenset({*_channels(38, 62, 8), *_channels(102, 142, 8), *_channels(151, 175, 8)}),
            80: frozenset({42, 58, 106, 122, 138, 155, 171}),
            160: frozenset({50, 114, 163}),
        },
        "6": {
            20: frozenset({2, *_channels(1, 233, 4)}),  # 2 lies below the others, operating class 136
            40: frozenset(_channels(3, 227, 8)),
            80: frozenset(_channels(7, 215, 16)),
            160: frozenset(_channels(15, 207, 32)),
            320: frozenset(_channels(31, 191, 32)),
        },
    }
)
_CHANNELS: Mapping[str, frozenset[int]] = MappingProxyType(
    {band: frozenset().union(*widths.values()) for band, widths in _CHANNELS_BY_WIDTH.items()}
)

_BAND_START_MHZ: Mapping[str, int] = MappingProxyType({"2.4": 2407, "5": 5000, "6": 5950})
_IRREGULAR_CENTRES_MHZ: Mapping[tuple[str, int], int] = MappingProxyType({("2.4", 14): 2484, ("6", 2): 5935})


def is_channel(band: str, channel: int) -> bool:
    """Whether *channel* is the number of a channel, or of the centre of a wider one, in *band*.

    Raises  ValueError for an unknown band.
    Source  IEEE 802.11-2020 Annex E, table E-4 (from memory).
    """
    _require_band(band)
    return channel in _CHANNELS[band]


def has_width(band: str, channel: int, width_mhz: int) -> bool:
    """Whether a channel of *width_mhz* is centred on the number *channel*, or holds the 20 MHz channel of this number.

    False for a width the band does not have.
    Raises  ValueError for an unknown band or a channel number it does not have.
    Source  as `is_channel`; a 20 MHz channel lies within a wider one if its edges do.
    """
    _require_channel(band, channel)
    centres = _CHANNELS_BY_WIDTH[band].get(width_mhz, frozenset())
    if channel in centres:
        return True
    if channel not in _CHANNELS_BY_WIDTH[band][20]:
        return False
    middle = channel_centre_mhz(band, channel)
    return any(abs(channel_centre_mhz(band, centre) - middle) + 10 <= width_mhz / 2 for centre in centres)


def channel_centre_mhz(band: str, channel: int) -> int:
    """Centre frequency of the 20 MHz channel, or of the wider channel, that has this number. [MHz]

    Raises  ValueError for an unknown band or a channel number it does not have.
    Source  IEEE 802.11-2020, 19.3.15.2 and Annex E: start of the band + 5 MHz * number (from memory).
    """
    _require_channel(band, channel)
    regular = _BAND_START_MHZ[band] + 5 * channel
    return _IRREGULAR_CENTRES_MHZ.get((band, channel), regular)


def power_class(band: str, channel: int) -> str:
    """Name of the sub-band of *channel* in which power limits are usually one rule (`POWER_CLASSES`).

    Raises  ValueError for an unknown band or a channel number it does not have.
    Source  common division of the bands in national rules (memory).
    """
    _require_channel(band, channel)
    return next(c.name for c in POWER_CLASSES if c.band == band and c.first_channel <= channel <= c.last_channel)


def _require_band(band: str) -> None:
    if band not in BANDS:
        raise ValueError(f"band must be one of {', '.join(BANDS)}, got {band!r}")


def _require_channel(band: str, channel: int) -> None:
    if not is_channel(band, channel):
        raise ValueError(f"{channel} is not the number of a channel in the {band} GHz band")

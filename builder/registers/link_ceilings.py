"""What the radios of two ends can carry at most: the PHY rate of the link they share."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from catalog.records import Client, Device
from catalog.standards import PHYS, phy_ceiling_mbit_s


@dataclass(frozen=True, slots=True)
class LinkCeiling:
    """The best link two ends can form.

    amendment  the newest that both know
    streams    the fewer of the two [1]
    width_mhz  the narrowest of the two and of the channel [MHz]
    mbit_s     its PHY rate; no throughput can be above it [Mbit/s]
    """

    amendment: str
    streams: int
    width_mhz: int
    mbit_s: float

    @property
    def words(self) -> str:
        """Generation, streams and width: what the rate follows from."""
        return f"{self.amendment}, {wording.count(self.streams, 'stream')}, {wording.width(self.width_mhz)}"

    @property
    def sentence(self) -> str:
        return f"{self.words}: the radio link carries at most {wording.rate(self.mbit_s)} Mbit/s."


def radio_ceilings(end: Device | Client, band: str) -> list[LinkCeiling]:
    """What the radio of one end can carry on each width it has, narrowest first; empty where none is registered.

    Source  IEEE 802.11 PHY rates (catalog.standards).
    """
    radio = next((r for r in end.radios if r.band == band), None)
    phy = PHYS.get(end.amendment)
    if radio is None or phy is None or not 1 <= radio.streams <= phy.max_streams:
        return []
    return [
        LinkCeiling(end.amendment, radio.streams, width, phy_ceiling_mbit_s(end.amendment, radio.streams, width))
        for width in phy.data_subcarriers
        if width <= radio.max_width_mhz
    ]


def link_ceiling(device: Device, client: Client, *, band: str, width_mhz: int) -> LinkCeiling | None:
    """The link of a device and a client setup on one channel; None where a radio is not registered.

    Source  IEEE 802.11 PHY rates (catalog.standards), method section 4.
    """
    radios = [next((r for r in end.radios if r.band == band), None) for end in (device, client)]
    first, second = radios
    known = list(PHYS)
    if first is None or second is None or not {device.amendment, client.amendment} <= set(known):
        return None
    amendment = min(device.amendment, client.amendment, key=known.index)
    streams = min(first.streams, second.streams)
    width = min(first.max_width_mhz, second.max_width_mhz, width_mhz)
    try:
        return LinkCeiling(amendment, streams, width, phy_ceiling_mbit_s(amendment, streams, width))
    except ValueError:  # the amendment has no such width or number of streams
        return None

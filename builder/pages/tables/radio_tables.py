"""Radios in tables: what a link of their generation, streams and width can carry, and how loud a device seems."""

from __future__ import annotations

from dataclasses import dataclass, replace

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.pages.contents import Results
from builder.pages.parts.blocks import Entry, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, decibel_entry, link_entry, rate_entry
from builder.registers.eirp import OTHER_ADAPTER_DB, ImpliedEirp, implied_eirps
from builder.registers.link_ceilings import LinkCeiling, radio_ceilings
from catalog.records import Client, Device, Radio
from catalog.standards import tcp_port_limit_mbit_s, tcp_port_limit_with_timestamps_mbit_s

_MOST = "PHY rate: the most that a link of this generation, so many streams and this width can send (IEEE 802.11)"


@dataclass(frozen=True, slots=True)
class _RadioLink:
    """A radio on one width; phy is what it can carry there, None where that is not known."""

    amendment: str
    radio: Radio
    phy: LinkCeiling | None


def client_radio_table(results: Results, client: Client) -> Table | None:
    """Each radio of a client setup on each width it has: its PHY rate, and the ceilings that runs have shown."""
    return table_of(
        [
            _RadioLink(client.amendment, radio, phy)
            for radio in client.radios
            for phy in (radio_ceilings(client, radio.band) or (None,))
        ],
        [
            *_RATE_COLUMNS,
            Column("Ceiling, download, Mbit/s", lambda k: _shown_entry(results, client, k, "down"), numeric=True),
            Column("Ceiling, upload, Mbit/s", lambda k: _shown_entry(results, client, k, "up"), numeric=True),
        ],
        key="radios",
        caption=f"{_MOST}; what arrives is always less. Beside it, the ceiling that a run with this client has shown.",
    ).or_none


def device_radio_table(device: Device) -> Table | None:
    """Each radio of a device on each width it has: its PHY rate, and the power the maker states."""
    return table_of(
        [_RadioLink(device.amendment, r, phy) for r in device.radios for phy in radio_ceilings(device, r.band)],
        [
            *_RATE_COLUMNS,
            Column(
                "Stated EIRP", lambda k: decibel_entry(k.radio.eirp_dbm, unit="dBm", missing="not stated"), numeric=True
            ),
        ],
        key="radios",
        caption=f"{_MOST}; a client with fewer streams or a narrower channel gets less. EIRP as the maker states it.",
    ).or_none


def loudness_table(results: Results, here: str, side: Subject) -> Table | None:
    """Implied EIRP with its spread, a row for each client setup, band and width. None where no level was read."""
    return table_of(
        implied_eirps(results.bench, side),
        (
            Column("Read by", lambda e: _reader_entry(results, here, e)),
            Column("Link", lambda e: Entry(text=f"{wording.band(e.band)}, {wording.width(e.width_mhz)}")),
            Column("Implied EIRP", lambda e: decibel_entry(e.mean, unit="dBm"), numeric=True),
            Column("Spread s", lambda e: decibel_entry(e.sd, unit="dB", missing="one place"), numeric=True),
            Column("Least to most", _span_entry, numeric=True),
            Column("Places", lambda e: count_entry(len(e.cells)), numeric=True),
        ),
        key="loudness",
        caption="Implied EIRP, downlink: the level a client reads plus the attenuation of the place, over all places. "
        "It says how loud this device is next to another read by the same client; it is no measurement of its "
        f"transmit power, for two adapters may read {wording.decibels(OTHER_ADAPTER_DB)} dB apart (practice).",
        row_key=lambda e: e.figure,
    ).or_none


def port_note(device: Device) -> str:
    """What the fastest wired port of a device carries at most; "" where none is registered."""
    if not device.ports:
        return ""
    fastest = max(port.speed_mbit_s for port in device.ports)
    return f"its {wording.port_speed(fastest)} port carries {port_payload(fastest)} Mbit/s"


def port_payload(speed_mbit_s: float) -> str:
    """TCP payload that a port of that speed [Mbit/s] carries at most, with and without the timestamps option."""
    low, high = tcp_port_limit_with_timestamps_mbit_s(speed_mbit_s), tcp_port_limit_mbit_s(speed_mbit_s)
    return wording.between(low, high, wording.rate_decimals(low, high))


def _link_entry(link: _RadioLink) -> Entry:
    width = wording.width(link.phy.width_mhz) if link.phy else f"up to {wording.width(link.radio.max_width_mhz)}"
    return Entry(text=f"{wording.band(link.radio.band)}, {width}")


def _phy_entry(link: _RadioLink) -> Entry:
    generation = f"{link.amendment}, {wording.count(link.radio.streams, 'stream')}"
    if link.phy is None:
        return Entry(why_missing=f"not known for {generation}")
    return replace(rate_entry(link.phy.mbit_s), note=generation)


_RATE_COLUMNS = (Column("Link", _link_entry), Column("PHY rate, Mbit/s", _phy_entry, numeric=True))


def _shown_entry(results: Results, client: Client, link: _RadioLink, direction: str) -> Entry:
    """The registered ceiling of a link and what share of the PHY rate it is."""
    width_mhz = link.phy.width_mhz if link.phy else 0
    ceiling = results.bench.limits.ceilings.get((client.client_id, link.radio.band, width_mhz, direction))
    if link.phy is None or ceiling is None:
        return Entry(why_missing="none registered")
    return replace(rate_entry(ceiling), note=f"{wording.percent(ceiling / link.phy.mbit_s)} of the PHY rate")


def _reader_entry(results: Results, here: str, eirp: ImpliedEirp) -> Entry:
    client = results.bench.clients[eirp.client]
    name = f"{client.name}, driver {eirp.driver}" if eirp.driver else client.name
    return link_entry(here, name, addresses.client(eirp.client))


def _span_entry(eirp: ImpliedEirp) -> Entry:
    if eirp.sd is None:
        return Entry(why_missing="one place")
    return Entry(text=f"{wording.dbm_range(eirp.low, eirp.high)} dBm")

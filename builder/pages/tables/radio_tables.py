"""Radios in tables: what a link of their generation, streams and width can carry, and how loud a device seems."""

from __future__ import annotations

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.pages.contents import Results
from builder.pages.parts.blocks import Entry, Heading, Row, Table
from builder.pages.parts.entries import number_entry, rate_entry, text_entry
from builder.registers.eirp import OTHER_ADAPTER_DB, ImpliedEirp, implied_eirps
from builder.registers.link_ceilings import LinkCeiling, radio_ceilings
from catalog.records import Client, Device
from catalog.standards import tcp_port_limit_mbit_s, tcp_port_limit_with_timestamps_mbit_s

_LINK = Heading("Link")
_PHY = Heading("PHY rate, Mbit/s", numeric=True)
_MOST = "PHY rate: the most that a link of this generation, so many streams and this width can send (IEEE 802.11)"


def client_radio_table(results: Results, client: Client) -> Table | None:
    """Each radio of a client setup on each width it has: its PHY rate, and the ceilings that runs have shown."""
    rows: list[Row] = []
    for radio in client.radios:
        for found in radio_ceilings(client, radio.band):
            shown = (_shown(results, client, radio.band, found, direction) for direction in ("down", "up"))
            rows.append(_radio_row(radio.band, found, *shown))
        if not radio_ceilings(client, radio.band):
            width = wording.width(radio.max_width_mhz)
            unknown = Entry(why_missing=f"not known for {client.amendment}, {wording.count(radio.streams, 'stream')}")
            none = Entry(why_missing="none registered")
            rows.append(Row(Entry(text=f"{wording.band(radio.band)}, up to {width}"), (unknown, none, none)))
    if not rows:
        return None
    return Table(
        key="radios",
        caption=f"{_MOST}; what arrives is always less. Beside it, the ceiling that a run with this client has shown.",
        columns=(
            _LINK,
            _PHY,
            Heading("Ceiling down, Mbit/s", numeric=True),
            Heading("Ceiling up, Mbit/s", numeric=True),
        ),
        rows=tuple(rows),
    )


def device_radio_table(device: Device) -> Table | None:
    """Each radio of a device on each width it has: its PHY rate, and the power the maker states."""
    rows = [
        _radio_row(
            radio.band,
            found,
            number_entry(radio.eirp_dbm, wording.decibels, unit="dBm", missing="not stated"),
        )
        for radio in device.radios
        for found in radio_ceilings(device, radio.band)
    ]
    if not rows:
        return None
    return Table(
        key="radios",
        caption=f"{_MOST}; a client with fewer streams or a narrower channel gets less. EIRP as the maker states it.",
        columns=(_LINK, _PHY, Heading("Stated EIRP", numeric=True)),
        rows=tuple(rows),
    )


def loudness_table(results: Results, here: str, who: Subject) -> Table | None:
    """Implied EIRP with its spread, a row for each client setup, band and width. None where no level was read."""
    found = implied_eirps(results.bench, who)
    if not found:
        return None
    return Table(
        key="loudness",
        caption="Implied EIRP, downlink: the level a client reads plus the attenuation of the place, over all places. "
        "It says how loud this device is next to another read by the same client; it is no measurement of its "
        f"transmit power, for two adapters may read {wording.decibels(OTHER_ADAPTER_DB)} dB apart (practice).",
        columns=(
            Heading("Read by"),
            _LINK,
            Heading("Implied EIRP", numeric=True),
            Heading("Spread s", numeric=True),
            Heading("Least to most", numeric=True),
            Heading("Places", numeric=True),
        ),
        rows=tuple(_loudness_row(results, here, one) for one in found),
    )


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


def _radio_row(band: str, found: LinkCeiling, *more: Entry) -> Row:
    rate = rate_entry(found.mbit_s)
    of_what = f"{found.amendment}, {wording.count(found.streams, 'stream')}"
    link = f"{wording.band(band)}, {wording.width(found.width_mhz)}"
    return Row(Entry(text=link), (Entry(text=rate.text, note=of_what, sort_key=rate.sort_key), *more))


def _shown(results: Results, client: Client, band: str, found: LinkCeiling, direction: str) -> Entry:
    """The registered ceiling of a link and what share of the PHY rate it is."""
    ceiling = results.bench.limits.ceilings.get((client.client_id, band, found.width_mhz, direction))
    if ceiling is None:
        return Entry(why_missing="none registered")
    share = f"{wording.percent(ceiling / found.mbit_s)} of the PHY rate"
    return Entry(text=wording.rate(ceiling), note=share, sort_key=repr(ceiling))


def _loudness_row(results: Results, here: str, found: ImpliedEirp) -> Row:
    client = results.bench.clients[found.client]
    name = f"{client.name}, driver {found.driver}" if found.driver else client.name
    span = "" if found.sd is None else wording.dbm_range(found.low, found.high)
    return Row(
        Entry(text=name, href=addresses.link(here, addresses.client(found.client))),
        (
            Entry(text=f"{wording.band(found.band)}, {wording.width(found.width_mhz)}"),
            number_entry(found.mean, wording.decibels, unit="dBm"),
            number_entry(found.sd, wording.decibels, unit="dB", missing="one place"),
            text_entry(f"{span} dBm" if span else None, missing="one place"),
            Entry(text=str(len(found.cells)), sort_key=str(len(found.cells))),
        ),
        key=found.figure,
    )

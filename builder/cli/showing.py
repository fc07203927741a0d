"""The verb show: what is known of a device, or of a client setup."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json, print_lines

if TYPE_CHECKING:
    from sqlite_utils import Database

    from builder.registers.proposing import ProposedCeiling
    from catalog.records import Link


@click.command()
@click.argument("device")
@catalog_option
@as_of_option
@json_option
def show(device: str, catalog: Path, as_of: datetime, as_json: bool) -> None:
    """What is known and measured of DEVICE; of a client setup, its links and ceilings.

    Ceilings that results suggest and nobody registered yet are named with the run to register.
    """
    from builder.bench.asking import copy_about
    from builder.bench.bench import load_bench
    from builder.registers.proposing import links_suspected, proposed_ceilings
    from builder.traces.showing import client_json, named, show_json
    from builder.under_load.log_coverage import cells_with_gaps
    from catalog import queries
    from catalog.figure_names import parts_of_subject
    from catalog.visibility import Asked

    bench, what, name = None, "", ""
    links: frozenset[Link] = frozenset()

    def suspected(copy: Database) -> Asked | None:
        nonlocal bench, what, name, links
        bench = load_bench(copy)
        what, name = named(bench, device)
        if what == "client":
            return Asked(clients=frozenset({name}))
        links = links_suspected(bench, parts_of_subject(name)[0])
        return Asked(links=links) if links else None

    copy = copy_about(catalog, device, as_of=as_of, then=suspected)
    proposals: list[ProposedCeiling] = []
    if links or what == "client" or bench is None:
        runs = queries.runs(copy)
        bench = load_bench(copy, runs=runs)
        by_number = {run.run_id: run for run in runs}
        proposals = proposed_ceilings(bench, by_number, only=links or None)
    if what == "device":
        gaps = cells_with_gaps(copy, bench).get(parts_of_subject(name)[0], {})
        document = show_json(bench, name, proposals, gaps=gaps)
        lines = _device_lines(document, as_of)
    else:
        document = client_json(bench, name, proposals, ceilings=queries.ceilings(copy), runs=runs)
        lines = _client_lines(document, as_of)
    if as_json:
        print_json(document)
    else:
        print_lines(lines)


def _client_lines(document: dict[str, Any], as_of: datetime) -> list[str]:
    from builder import wording

    lines = [f"{document['name']}, {document['amendment']}", f"As of {instant_text(as_of)}."]
    lines += [f"Driver {d['version']}, series {d['series']}" for d in document["drivers"]]
    for link in document["links"]:
        streams = wording.count(link["streams"], "stream")
        place = f"{wording.band(link['band'])}, {wording.width(link['width_mhz'])}, {streams}"
        lines.append(f"{place}: the radio link carries at most {wording.rate(link['phy_mbit_s'])} Mbit/s")
    for one in document["ceilings"]:
        place = wording.conditions(band_name=one["band"], width_mhz=one["width_mhz"], direction=one["direction"])
        shown = f", shown against {one['device']} by {one['evidence'] or 'a row that is not public'}"
        lines.append(f"Ceiling {place}: {wording.rate(one['mbit_s'])} Mbit/s{shown}")
    if not document["ceilings"]:
        lines.append("No ceiling is registered.")
    return lines + [f"Suspected: {one['sentence']}" for one in document["proposed_ceilings"]]


def _retest(returned: str, as_of: datetime) -> str:
    if returned <= as_of.astimezone(UTC).date().isoformat():
        return f"; no retest possible since {returned}"
    return f"; goes back on {returned}"


def _device_lines(document: dict[str, Any], as_of: datetime) -> list[str]:
    from builder import wording
    from catalog.figure_names import subject_id

    under = f" with {document['settings']}" if document["settings"] else ""
    lines = [
        f"{document['maker']} {document['model']}{under}, {document['amendment']}",
        f"As of {instant_text(as_of)}.",
    ]
    lines += [
        f"Unit {u['unit']}: {u['origin']}{' by ' + u['by'] if u['by'] else ''}, "
        f"in {u['received'] or 'on an unknown date'}" + (_retest(u["returned"], as_of) if u["returned"] else "")
        for u in document["units"]
    ]
    for f in document["firmware"]:
        marks = [m for m, yes in (("current", f["current"]), ("not public", not f["public"])) if yes]
        lines.append(
            f"Firmware {f['version']}, released {f['released'] or 'on an unknown date'}"
            + (f" ({', '.join(marks)})" if marks else "")
        )
    lines += [f"Session {day['session']}: {day['sentence']}" for day in document["odd_sessions"]]
    lines += [f"Suspected: {one['sentence']}" for one in document["proposed_ceilings"]]
    lines.append("")
    for c in document["cells"]:
        place = c["spot"] or ""
        place += f" {wording.decibels(c['attenuation_db'])} dB" if c["attenuation_db"] is not None else ""
        place += f" {wording.decibels(c['level_dbm'])} dBm" if c["level_dbm"] is not None else ""
        value = f"{wording.rate(c['mean'], bound=c['bound'])} Mbit/s" if c["mean"] is not None else "no finished run"
        spread = f", s {wording.rate(c['sd'])}" if c["sd"] is not None else ", single run" if c["n"] == 1 else ""
        spread += f", {c['summary']} as noted then" if "summary" in c else ""
        fell = f", {wording.count(c['did_not_finish'], 'run')} broke off" if c["did_not_finish"] else ""
        link = wording.conditions(
            band_name=c["band"],
            width_mhz=c["width_mhz"],
            direction=c["direction"],
            protocol=c["protocol"],
            flows=c["flows"],
            security=c["security"],
        )
        gaps = f"; {c['gaps']}" if c["gaps"] else ""
        lines.append(
            f"{c['firmware']}  {c['client']}  {link}  {place.strip()}: {value} (n {c['n']}{spread}){fell}{gaps}"
        )
    if not document["cells"]:
        lines.append("Nothing measured yet.")
    if document["also_under"]:
        names = wording.listing([subject_id(document["device"], one) for one in document["also_under"]])
        lines.append(f"Also tested under other settings: {names}.")
    return lines

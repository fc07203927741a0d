"""Verbs about devices that work for long or for many: roles, longrun."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json, print_lines
from builder.cli.sides import side_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from builder.bench.bench import Bench, Subject
    from builder.under_load.mix_comparisons import MixComparison
    from builder.under_load.mixes import MixResult
    from builder.under_load.roles import RoleResult
    from builder.under_load.workloads import LeftOut, Standing, WorkloadResult


@click.command()
@click.argument("device")
@click.option("--workload", help="Runs of this workload only.")
@click.option("--against", metavar="OTHER", help="Compare with this device only; without it with every other one.")
@click.option("--unit", help="The unit.")
@catalog_option
@as_of_option
@json_option
def roles(
    device: str,
    workload: str | None,
    against: str | None,
    unit: str | None,
    catalog: Path,
    as_of: datetime,
    as_json: bool,
) -> None:
    """What each client of DEVICE got while several were busy at once, and how that compares with other devices.

    Verdicts, percentiles and on-time shares of every run, then each role against every other device that did the workload.
    """
    from builder.bench.asking import copy_about
    from builder.bench.bench import load_bench
    from builder.under_load.broken_runs import latest_tested
    from builder.under_load.collapses import count
    from builder.under_load.documents import roles_json
    from builder.under_load.mix_comparisons import mix_comparisons
    from builder.under_load.mixes import load_mixes, mix_subject, mixes_of
    from builder.under_load.workloads import workload_results
    from catalog import queries
    from catalog.errors import UnknownName
    from catalog.light_imports import import_beside
    from catalog.visibility import Asked

    import_beside("scipy.special")
    db = copy_about(catalog, device, against or "", as_of=as_of, asked=Asked(under_load=True))
    bench, results = load_bench(db), load_mixes(db)
    side = mix_subject(bench, results, device, unit=unit)
    known = sorted({r.mix.workload for r in results})
    if workload is not None and workload not in known:
        raise UnknownName(f"There is no workload {workload!r} with runs. {', '.join(known) or 'None'} has some.")
    mixes = mixes_of(results, side, workload=workload)
    workloads = {m.mix.workload for m in mixes}
    compared = mix_comparisons(bench, side, mixes, _others(bench, results, side, against))
    tested, long = [r.mix for r in results], queries.longruns(db)
    others = {c.subjects[1].device for c in compared}
    current = {other: latest_tested(bench, other, tested, long) for other in others}
    over_devices = [
        w for w in workload_results(bench, results) if w.workload in workloads and side.id in (s.id for s in w.subjects)
    ]
    if as_json:
        document = roles_json(side, mixes, compared, over_devices, current=current)
        print_json({"as_of": instant_text(as_of), **document})
        return
    lines = [
        side_text(side),
        f"As of {instant_text(as_of)}.",
    ]
    lines += [side.note] if side.note else []
    if not mixes:
        print_lines([*lines, "No runs with several clients at once."])
        return
    lines.append(f"Runs with several clients at once: {count(m.mix for m in mixes).sentence}.")
    for one in mixes:
        lines += ["", *_mix_lines(one)]
    for comparison in compared:
        lines += ["", *_comparison_lines(bench, comparison, current)]
    if against is not None and not compared:
        lines += ["", f"{against} did none of these workloads: not tested."]
    for result in over_devices:
        lines += ["", *_workload_lines(result)]
    print_lines(lines)


def _others(
    bench: Bench, results: Sequence[MixResult], side: Subject, against: str | None
) -> Mapping[str, Sequence[MixResult]]:
    """The runs of every other device, or of the one that *against* names: "device" or "device@firmware"."""
    from collections import defaultdict

    from builder.under_load.mixes import mix_subject, mixes_of

    by_device: dict[str, list[MixResult]] = defaultdict(list)
    for result in results:
        if result.mix.device != side.device:
            by_device[result.mix.device].append(result)
    if against is None:
        return by_device
    other = mix_subject(bench, results, against)
    if other.settings != side.settings:
        raise click.UsageError("Runs with several clients are compared under the same settings only.")
    if (other.device, other.unit, other.firmware) == (side.device, side.unit, side.firmware):
        raise click.UsageError("A device with one firmware is not compared with itself. Name another one.")
    return {other.device: mixes_of(results, other) if "@" in against else by_device[other.device]}


def _comparison_lines(bench: Bench, comparison: MixComparison, current: Mapping[str, str | None]) -> list[str]:
    other = comparison.subjects[1]
    newest = current[other.device]
    older = f", not {newest}, which is current" if newest not in (None, other.firmware) else ""
    lines = [f"{comparison.workload} against {other.maker} {other.model} ({other.firmware}{older}):"]
    lines.append(f"  {comparison.sentence}")
    lines += [f"  {comparison.note}"] if comparison.note else []
    lines += [f"  {role.role.role_id} ({role.clients[0]}): {role.sentence}" for role in comparison.roles]
    return lines


def _mix_lines(result: MixResult) -> list[str]:
    from builder import wording

    mix = result.mix
    lines = [f"{mix.mix}: {mix.workload} version {mix.version}, {wording.date(mix.date)}", f"  {result.sentence}"]
    for role in result.roles:
        lines.append(f"  {role.role.role_id} ({role.role.kind}, {_seat_text(role)}): {role.sentence}")
        lines += [f"    {text}" for text in _figure_texts(role)]
    lines += [
        f"  Fairness of {wording.listing(f.roles)}: "
        + (wording.ratio(f.index) if f.index is not None else "nobody got anything")
        for f in result.fairness
    ]
    return lines


def _seat_text(role: RoleResult) -> str:
    """Who played a role and where: "mottle-n1 at S5, 65.7 dB, 2.4 GHz"."""
    from builder import wording

    station = role.station
    if station is None:
        return "no client"
    loss = None if station.attenuation_db is None else f"{wording.decibels(station.attenuation_db)} dB"
    place = ", ".join(part for part in (station.spot, loss) if part) or "a place that nobody wrote down"
    under = f", settings {station.settings}" if station.settings else ""
    return f"{station.client} at {place}, {wording.band(station.band)}{under}"


def _figure_texts(role: RoleResult) -> list[str]:
    from builder import wording

    texts: list[str] = []
    if role.percentiles:
        shown = [
            f"p{p.percent} {wording.milliseconds(p.ms) + ' ms' if p.ms is not None else 'failed'}"
            + (" (thin)" if p.thin else "")
            for p in role.percentiles
        ]
        texts.append(f"{', '.join(shown)}; {wording.count(role.failed or 0, 'request')} failed or never made")
    if role.voice is not None and role.voice.one_way_ms is not None:
        score = (
            f", R {wording.number(role.voice.r, 1)}, MOS {wording.number(role.voice.mos, 2)}"
            if role.voice.r is not None and role.voice.mos is not None
            else ""
        )
        texts.append(
            f"one way {wording.milliseconds(role.voice.one_way_ms)} ms (half the mean round trip and one packet), "
            f"loss {wording.percent(role.voice.loss)}{score}"
        )
    if role.apdex is not None:
        small = ", a small group" if role.apdex.small_group else ""
        texts.append(
            f"Apdex {wording.number(role.apdex.score, 2)} for {wording.milliseconds(role.apdex.target_ms)} ms{small}"
            + (f", page score {wording.number(role.page_mos, 2)} of 5" if role.page_mos is not None else "")
        )
    if role.shown is not None:
        began = (
            "never" if role.shown.start_delay_s is None else f"after {wording.number(role.shown.start_delay_s, 1)} s"
        )
        texts.append(
            f"picture began {began}, stalled {wording.count(role.shown.stalls, 'time')} for "
            f"{wording.number(role.shown.stalled_s, 1)} s in all"
        )
    if role.until is not None:
        known = [f"p{p} {wording.milliseconds(ms)} ms" for p, ms in role.until.percentiles.items() if ms is not None]
        share = (
            f"{wording.percent(role.until.on_time_share)} of {role.until.made} on time, "
            if role.until.on_time_share is not None
            else ""
        )
        texts.append(f"until it broke off: {share}{', '.join(known)}")
    return texts


def _workload_lines(result: WorkloadResult) -> list[str]:
    from builder import wording

    versions = wording.listing([str(version) for version in result.versions])
    which = "version" if len(result.versions) == 1 else "versions"
    lines = [f"{result.workload} {which} {versions} over devices. {result.note}".rstrip()]
    for place, standing in enumerate(result.standings, start=1):
        fell = f", {standing.collapses.sentence}" if standing.collapses.collapsed else ""
        tie = "" if standing.apart else "  not told apart from the row above"
        pressed = "every role" if standing.share == 1 else _pressed(result, standing)
        share = f", {pressed} {wording.percent(standing.share)} on time" if standing.hardest else ""
        lines.append(
            f"  {place}  {standing.subject.maker} {standing.subject.model}: {len(standing.met)} of "
            f"{wording.count(standing.roles, 'role')} met in these runs{share}, {_runs_text(standing)}{fell}{tie}"
        )
    lines += [
        f"     {one.subject.maker} {one.subject.model}: {one.sentence}{_fell_text(one)}" for one in result.not_ranked
    ]
    return lines


def _pressed(result: WorkloadResult, standing: Standing) -> str:
    return result.part(standing.hardest).name if standing.hardest else ""


def _fell_text(left_out: LeftOut) -> str:
    from builder import wording

    return f" {wording.capital(left_out.collapses.sentence)}." if left_out.collapses.collapsed else ""


def _runs_text(standing: Standing) -> str:
    from builder import wording

    return wording.count(standing.runs, "run") + (
        f" and {standing.incomplete} incomplete" if standing.incomplete else ""
    )


@click.command()
@click.argument("device")
@click.option("--unit", help="The unit.")
@catalog_option
@as_of_option
@json_option
def longrun(device: str, unit: str | None, catalog: Path, as_of: datetime, as_json: bool) -> None:
    """How steady DEVICE is over hours: evenness, stalls, drift, and a period if one is found."""
    from builder import wording
    from builder.bench.asking import copy_about
    from builder.bench.bench import load_bench
    from builder.under_load.collapses import OUTCOME_WORDS
    from builder.under_load.longruns import load_longruns, longrun_subject, longruns_json, longruns_of, sentences

    db = copy_about(catalog, device, as_of=as_of)
    bench, results = load_bench(db), load_longruns(db)
    side = longrun_subject(bench, results, device, unit=unit)
    runs = longruns_of(results, side)
    if as_json:
        print_json({"as_of": instant_text(as_of), **longruns_json(side, runs)})
        return
    lines = [side_text(side), f"As of {instant_text(as_of)}."] + ([side.note] if side.note else [])
    for one in runs:
        link = wording.conditions(band_name=one.run.band, width_mhz=one.run.width_mhz, direction=one.run.direction)
        lines += ["", f"{wording.date(one.run.date)}, {one.run.client}, {link}: {OUTCOME_WORDS[one.run.outcome]}"]
        lines += [f"  {sentence}" for sentence in sentences(one)]
    print_lines(lines if runs else [*lines, "No long runs."])

"""Verbs that ask: compare, rank, reach."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json, print_lines
from builder.cli.sides import side_json, side_text

if TYPE_CHECKING:
    from builder.bench.bench import Subject
    from builder.pairs.verdicts import PairFigure

_client = click.option("--client", help="A client setup or client series.")
_band = click.option("--band", help="2.4, 5, 6, or 5+6.")
_width = click.option("--width", type=int, metavar="MHZ", help="Channel width.")
_direction = click.option("--direction", type=click.Choice(["down", "up"]))


@click.command()
@click.argument("a")
@click.argument("b")
@click.option("--match", type=click.Choice(["attenuation", "level", "spot"]), default="attenuation", show_default=True)
@click.option("--unit-a", help="The unit of A.")
@click.option("--unit-b", help="The unit of B.")
@click.option("--unit", help="The unit of both.")
@_client
@_band
@_width
@_direction
@catalog_option
@as_of_option
@json_option
def compare(
    a: str,
    b: str,
    match: str,
    unit_a: str | None,
    unit_b: str | None,
    unit: str | None,
    client: str | None,
    band: str | None,
    width: int | None,
    direction: str | None,
    catalog: Path,
    as_of: datetime,
    as_json: bool,
) -> None:
    """Compare A with B (device, device@firmware, device+settings): one entry a group both were tested in."""
    from builder.bench.asking import bench_about
    from builder.bench.bench import subject_named
    from builder.bench.tracks import GroupFilter
    from builder.pairs.compare import compare as compared
    from builder.pairs.verdicts import to_json
    from catalog.light_imports import import_beside

    import_beside("scipy.special")
    bench = bench_about(catalog, a, b, as_of=as_of)
    who_a = subject_named(bench, a, unit=unit_a or unit)
    who_b = subject_named(bench, b, unit=unit_b or unit)
    figures = compared(bench, who_a, who_b, match=match, only=GroupFilter(client, band, width, direction))  # type: ignore[arg-type]
    if as_json:
        print_json(
            {
                "as_of": instant_text(as_of),
                "a": _noted_json(who_a),
                "b": _noted_json(who_b),
                "match": match,
                "groups": [to_json(f) for f in figures],
            }
        )
        return
    lines = [
        f"{side_text(who_a)} against {side_text(who_b)}",
        f"As of {instant_text(as_of)}, matched at like {match}.",
    ]
    lines += [w.note for w in (who_a, who_b) if w.note]
    for figure in figures:
        lines += ["", *_pair_lines(figure)]
    print_lines(lines)


def _noted_json(side: Subject) -> dict[str, str | None]:
    return side_json(side) | ({"note": side.note} if side.note else {})


def _pair_lines(figure: PairFigure) -> list[str]:
    from builder import wording
    from builder.bench.naming import conditions
    from builder.pairs.verdicts import summaries_text

    groups = [conditions(group) for group in (figure.group, figure.group_b) if group]
    lines = [f"{figure.client}, {' against '.join(groups)}" if groups else "No group in common"]
    lines.append(f"  {figure.sentence}")
    if figure.mean_a is None or figure.mean_b is None:
        return lines
    if figure.range:
        shared = (
            f"{wording.dbm_range(*figure.range)} dBm"
            if figure.match == "level"
            else f"{wording.db_range(*figure.range)} dB"
        )
        place = f"Shared range {shared}"
    else:
        place = f"Spot {figure.spot}"
    means = [
        wording.rate(mean, bound=bound, decimals=figure.decimals)
        for mean, bound in ((figure.mean_a, figure.bound_a), (figure.mean_b, figure.bound_b))
    ]
    lines.append(
        f"  {place}: {means[0]} and {means[1]} Mbit/s, from {figure.n_a} and {figure.n_b} runs. [{figure.verdict}]"
    )
    if figure.crossings:
        where = wording.listing([wording.decibels(x) for x in figure.crossings])
        noise = ", inside noise" if figure.verdict == "not-separated" else ""
        lines.append(f"  The lead changes at {where} {'dBm' if figure.match == 'level' else 'dB'}{noise}.")
    if rests := summaries_text(figure):
        lines.append(f"  Rests on summaries as noted then: {rests}.")
    if figure.assumed:
        lines.append(f"  Assumed, neither measured nor declared: {', '.join(figure.assumed)}.")
    return lines


@click.command()
@_client
@_band
@_width
@_direction
@click.option("--window", type=click.Choice(["near", "middle", "far"]), default="middle", show_default=True)
@click.option("--settings", metavar="ID", help="What was tested under these settings; without it, as always.")
@catalog_option
@as_of_option
@json_option
def rank(
    client: str | None,
    band: str | None,
    width: int | None,
    direction: str | None,
    window: str,
    settings: str | None,
    catalog: Path,
    as_of: datetime,
    as_json: bool,
) -> None:
    """Rank devices over a fixed window of attenuation, with rank intervals."""
    from builder.bench.naming import full_name
    from builder.bench.settings import in_words
    from builder.bench.tracks import GroupFilter
    from builder.windows.group_choice import bench_to_rank
    from builder.windows.ranking import rank as ranked
    from builder.windows.ranking import ranking_json
    from catalog.errors import UnknownName
    from catalog.light_imports import import_beside

    only = GroupFilter(client, band, width, direction)
    import_beside("scipy.special")
    bench, groups = bench_to_rank(catalog, as_of=as_of, only=only, settings=settings)
    if not groups:
        raise UnknownName("No results with a measured attenuation under these conditions, so there is nothing to rank.")
    under = None if settings is None else bench.settings[settings]
    named = full_name(bench, groups[0])
    named += "" if under is None else f", with {in_words(under)}"
    note = ""
    if len(groups) > 1:
        note = f"{len(groups)} groups fit; this is the one with most devices: {named}."
    ranking = ranked(bench, groups[0], window, note=note)
    if as_json:
        stated = {"as_of": instant_text(as_of), "settings": None if under is None else under.settings_id}
        print_json(stated | ranking_json(ranking))
        return
    from builder import wording
    from builder.windows.standing import port_text

    of = len(ranking.ranked)
    wide = max((len(wording.ranks(entry.best, entry.worst, of)) for entry in ranking.ranked), default=0)
    lines = [
        f"{named}: {window} window, {wording.db_range(*ranking.range)} dB",
        f"As of {instant_text(as_of)}. Each rank interval holds for its device, not for all at once.",
    ]
    lines += [note] if note else []
    for entry in ranking.ranked:
        ranks = wording.ranks(entry.best, entry.worst, of)
        value = wording.rate(entry.value, bound=entry.bound)
        width_text = (
            f" ({wording.in_95(wording.between(entry.low, entry.high, wording.rate_decimals(entry.value)))})"
            if entry.low is not None and entry.high is not None
            else ""
        )
        tie = "" if entry.apart_from_above else "  not told apart from the row above"
        tie += f"  (summaries: {', '.join(entry.summaries)})" if entry.summaries else ""
        lines.append(
            f"{ranks:<{wide}}  {entry.subject.maker} {entry.subject.model}: {value} Mbit/s{width_text}{port_text(entry)}{tie}"
        )
    lines += [f"{'':<{wide}}  {n.subject.maker} {n.subject.model}: {n.sentence}" for n in ranking.not_ranked]
    print_lines(lines)


@click.command()
@click.argument("device")
@click.option(
    "--at", "rates", type=float, multiple=True, required=True, metavar="MBIT_S", help="A rate; may be repeated."
)
@click.option("--unit", help="The unit.")
@_client
@_band
@_width
@_direction
@catalog_option
@as_of_option
@json_option
def reach(
    device: str,
    rates: tuple[float, ...],
    unit: str | None,
    client: str | None,
    band: str | None,
    width: int | None,
    direction: str | None,
    catalog: Path,
    as_of: datetime,
    as_json: bool,
) -> None:
    """The attenuation at which DEVICE loses a rate, in every group it was tested in."""
    from builder import wording
    from builder.bench.asking import bench_about
    from builder.bench.bench import subject_named
    from builder.bench.naming import link_name
    from builder.bench.tracks import GroupFilter
    from builder.windows.reach import FASTEST_MBIT_S, is_rate, reach_json, reach_remark, reach_text, reaches
    from catalog.light_imports import import_beside

    if not all(map(is_rate, rates)):
        raise click.BadParameter(
            f"a rate is a number above 0 and up to {FASTEST_MBIT_S:.0f} Mbit/s.", param_hint="--at"
        )
    import_beside("scipy.special")
    bench = bench_about(catalog, device, as_of=as_of)
    side = subject_named(bench, device, unit=unit)
    results = reaches(bench, side, rates, only=GroupFilter(client, band, width, direction))
    if as_json:
        at = rates[0] if len(rates) == 1 else list(rates)
        print_json(
            {
                "as_of": instant_text(as_of),
                "device": side.device,
                "unit": side.unit,
                "firmware": side.firmware,
                "settings": side.settings or None,
                "at": at,
                "groups": [reach_json(g) for g in results],
            }
        )
        return
    lines = [side_text(side), f"As of {instant_text(as_of)}."] + ([side.note] if side.note else [])
    for g in results:
        lost = "lost" if g.reach.relation == "<" else "left up to"
        remark = f" ({reach_remark(g.reach)})" if reach_remark(g.reach) else ""
        where = reach_text(g.reach) + (" dB" if g.reach.db is not None else "")
        rate = wording.trimmed(g.at, 1)
        rests = f" (summaries: {', '.join(g.summaries)})" if g.summaries else ""
        lines.append(f"{g.client}, {link_name(bench, g.group)}: {rate} Mbit/s is {lost} {where}{remark}{rests}")
    print_lines(lines if results else [*lines, "No results with a measured attenuation under these conditions."])

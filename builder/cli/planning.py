"""The verb before a bench day: plan."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.program import catalog_option, json_option, print_json, print_lines, quoted
from builder.cli.sides import side_text

if TYPE_CHECKING:
    from builder.planning.plans import Plan
    from builder.planning.schedules import PlannedRow

_path = click.Path(path_type=Path)


@click.command()
@click.argument("device")
@click.option("--against", metavar="OTHER", help="The device it is to be compared with.")
@click.option("--both", is_flag=True, help="Measure OTHER again beside it: A, B, B, A over the spots of each day.")
@click.option("--window", metavar="WINDOW", help="near, middle or far [default: the widest range that is shared].")
@click.option("--client", help="A client setup or client series.")
@click.option("--band", help="2.4, 5 or 6.")
@click.option("--width", type=int, metavar="MHZ", help="Channel width.")
@click.option("--direction", type=click.Choice(["down", "up"]))
@click.option("--show", metavar="MBIT_S|PERCENT", help="The difference to be shown: 40, or 5% of OTHER's mean.")
@click.option("--hours", type=float, help="At most so much time [default: as much as pays].")
@click.option("--days", type=int, default=2, show_default=True, help="At most so many sessions.")
@click.option("--repeats", type=int, default=3, show_default=True, help="Of a cell at least.")
@click.option("--write", "batch", type=_path, metavar="BATCH", help="Write the rows to a new folder or BOOK.xlsx.")
@catalog_option
@json_option
def plan(
    device: str,
    against: str | None,
    both: bool,
    window: str | None,
    client: str | None,
    band: str | None,
    width: int | None,
    direction: str | None,
    show: str | None,
    hours: float | None,
    days: int,
    repeats: int,
    batch: Path | None,
    catalog: Path,
    as_json: bool,
) -> None:
    """What to measure of DEVICE next: spots, repeats and days, and what they would show.

    The reviewer's own tool: it looks at the whole catalogue, hidden things included.
    """
    from builder.bench.bench import load_bench
    from builder.bench.tracks import GroupFilter
    from builder.planning.afterwards import NOTHING, Recorded
    from builder.planning.costs import costs_of
    from builder.planning.plans import plan as planned
    from builder.planning.questions import Question, read_goal
    from builder.planning.written import write_plan
    from catalog import queries
    from catalog.beginning.declared_minutes import declared_minutes
    from catalog.connection import open_catalog
    from catalog.visibility import full_copy

    question = Question(
        device=device,
        against=against,
        both=both,
        window=window,
        only=GroupFilter(client, band, width, direction),
        goal=None if show is None else read_goal(show),
        hours=hours,
        days=days,
        least=repeats,
    )
    db = full_copy(catalog, as_of=datetime.now(UTC).replace(microsecond=0))
    runs = queries.runs(db)
    with closing(open_catalog(catalog, readonly=True)) as whole:  # a copy holds no files
        costs = costs_of(runs, declared_minutes(whole))
    recorded = Recorded(queries.stations(db), queries.heat(db)) if against is not None else NOTHING
    result = planned(load_bench(db, runs=runs), question, costs, recorded)
    if batch is not None:
        from catalog.whole_files import require_apart

        require_apart(batch, catalog=catalog)
        rows = write_plan(result, batch, db, today=date.today())
    if as_json:
        print_json(result.to_json())
    else:
        print_lines(_lines(result))
    if batch is not None:
        from builder import wording

        click.echo(
            f"{batch}: {wording.count(rows, 'row')} to measure. Fill them in, then: likeloss check {quoted(batch)}",
            err=True,
        )


def _lines(result: Plan) -> list[str]:
    from builder import wording
    from builder.bench.naming import conditions
    from builder.planning import answers

    lattice = result.lattice
    device, other = lattice.device.subject, lattice.other
    against = f" against {side_text(other.subject)}" if other is not None else ""
    lines = [
        f"{side_text(device)}{against}",
        f"{lattice.device.client[0]}, {conditions(lattice.group)}, {wording.db_range(lattice.low, lattice.high)} dB.",
        *result.ground.notes,
        *result.sentences,
        answers.cost_text(result.costs),
    ]
    day = 0
    for row in result.rows:
        if row.day != day:
            day = row.day
            lines += ["", f"Day {day}"]
        if row.pause:
            lines.append(f"      let it cool for {answers.time_text(row.pause)}")
        lines.append(f"{row.order:>4}  {_what(row)}  {answers.time_text(row.minutes)}")
    return lines


def _what(row: PlannedRow) -> str:
    """A row in the list: "hollendry-bobbin S1 download 1  logs/01-s1-down-1.csv"."""
    from builder import wording

    values = dict(row.values)
    if row.table == "heat":
        return f"{row.device} {values['face']} ({values['material']}) after {values['minutes']} min of {values['load']}"
    place = row.spot or (f"{wording.trimmed(row.attenuation_db, 1)} dB" if row.attenuation_db is not None else "")
    repeat = "" if row.repeat is None else str(row.repeat)
    subject = (row.device, values.get("workload", ""), row.client) if row.table == "stations" else (row.device,)
    parts = (*subject, values.get("role", ""), place, wording.way(row.direction), repeat)
    return f"{' '.join(part for part in parts if part)}  {row.log}"

"""Verbs before and between measurements: new, map, coverage."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.program import catalog_option, json_option, print_json, print_lines, quoted

if TYPE_CHECKING:
    from catalog.beginning import Coverage

_path = click.Path(path_type=Path)


@click.command()
@click.argument("batch", type=_path)
@click.option("--like", metavar="DEVICE", help="Take over this device's radios, and its cells for a plan.")
@click.option("--plan", is_flag=True, help="Fill the runs with every cell to measure, three repeats each.")
@catalog_option
def new(batch: Path, like: str | None, plan: bool, catalog: Path) -> None:
    """Begin BATCH: a folder with a commented batch.toml and a runs.csv to fill, or a workbook BOOK.xlsx."""
    from builder import wording
    from catalog.connection import open_catalog
    from catalog.whole_files import require_apart

    require_apart(batch, catalog=catalog)
    db = open_catalog(catalog, readonly=True) if catalog.exists() else None
    if batch.suffix.casefold() == ".xlsx":
        from catalog.books import begin_workbook

        rows = begin_workbook(batch, catalog=db, like=like, plan=plan, today=date.today())
        made, them = "every sheet with its headings", "it"
    else:
        from catalog.beginning import begin_batch

        files, rows = begin_batch(batch, catalog=db, like=like, plan=plan, today=date.today())
        made, them = wording.listing(files), "them"
    planned = f"; {wording.count(rows, 'row')} to measure" if plan else ""
    click.echo(f"{batch}: {made}{planned}. Fill {them}, then: likeloss check {quoted(batch)}")


@click.command(name="map")
@click.argument("file", type=_path)
@click.option("--write", "name", metavar="NAME", help="Write it to maps/NAME.toml of the batch around the file.")
@click.option("--batch", "folder", type=_path, metavar="FOLDER", help="Write it to this batch instead.")
@click.option("--debug", is_flag=True, expose_value=False, help="Show the traceback of a failure.")
def propose(file: Path, name: str | None, folder: Path | None) -> None:
    """Propose a reading map for a foreign log or sheet, and show the first rows read through it."""
    from catalog.beginning.sheet_proposal import propose_sheet
    from catalog.reading.books import BOOK_SUFFIXES
    from catalog.reading.map_proposal import propose_map, write_map

    if name is not None and (name in ("", "..") or Path(name).name != name):
        raise click.BadParameter("a map has a plain name, without a folder.", param_hint="--write")
    if folder is not None and name is None:
        raise click.UsageError("--batch says where --write NAME puts the map.")
    sheet = propose_sheet(file)
    proposal = propose_map(file) if sheet is None else sheet
    if name is None:
        click.echo(proposal.text, nl=False)
    else:
        target = write_map(proposal.text, name, beside=file, batch=folder)
        batch, log = target.parent.parent.resolve(), file.resolve()
        inside = log.is_relative_to(batch)
        path = log.relative_to(batch).as_posix() if inside else file.name
        first = "" if inside else f" Put {file.name} into {batch}."
        use = f'In a table: log = "{name}:{path}"'
        if sheet is not None:
            use = f'In batch.toml, under [tables]: {sheet.kind} = "{name}:{path}"'
            books = [one for one in batch.iterdir() if one.suffix.casefold() in BOOK_SUFFIXES and one.resolve() != log]
            if books and not (batch / "batch.toml").is_file():
                use = f"In the sheet Batch: tables.{sheet.kind} | {name}:{path}"
        click.echo(f"{target} written.{first} {use}")
    remarks = (
        *(f"Look at: {note}" for note in proposal.notes),
        *(f"Question: {asked}" for asked in proposal.questions),
    )
    for line in (*proposal.first, *remarks):
        click.echo(line, err=True)


@click.command()
@click.argument("device")
@click.option("--like", metavar="DEVICE", help="Whose cells are the plan [default: the reference device].")
@catalog_option
@json_option
def coverage(device: str, like: str | None, catalog: Path, as_json: bool) -> None:
    """Cells of DEVICE done, missing, broken off, not possible; days until the unit goes back.

    The reviewer's own tool: it looks at the whole catalogue, hidden things included.
    """
    from catalog.beginning import coverage as covered
    from catalog.connection import open_catalog

    result = covered(open_catalog(catalog, readonly=True), device, like=like, today=date.today())
    if as_json:
        print_json(result.to_json())
    else:
        print_lines(_coverage_lines(result))


def _coverage_lines(result: Coverage) -> list[str]:
    from builder import wording
    from catalog.figure_names import subject_id

    counts = wording.listing([f"{number} {state}" for state, number in result.counts.items() if number])
    lines = [
        f"{subject_id(result.device, result.settings)}, planned like {result.like}: {wording.percent(result.share)} of "
        f"{wording.count(len(result.cells), 'cell')} have a value or a reason ({counts or 'nothing planned'})."
    ]
    for unit, days in result.days_left.items():
        when = f"goes back in {wording.count(days, 'day')}" if days >= 0 else f"went back {-days} days ago: no retest"
        lines.append(f"Unit {unit} {when}.")
    for one in result.cells:
        if one.state == "done":
            continue
        cell = one.cell
        link = wording.conditions(band_name=cell.band, width_mhz=cell.width_mhz, direction=cell.direction)
        lines.append(
            f"{one.state:>14}  {cell.client}  {link}  {cell.spot}, {cell.house}"
            + (f" ({wording.count(one.finished, 'run')} finished)" if one.finished else "")
        )
    return lines

"""Verbs of the maintainer's desk: check, enter, undo, correct."""

from __future__ import annotations

import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.bars import bar_on
from builder.cli.program import catalog_option, json_option, print_json
from builder.cli.site import print_touched

if TYPE_CHECKING:
    from sqlite_utils import Database

    from catalog.checking.batches import Checked
    from catalog.entering import CheckReport, Foreseen

_folder = click.Path(path_type=Path)


@click.command()
@click.argument("batch", type=_folder)
@catalog_option
@json_option
@click.option("--all", "every_row", is_flag=True, help="List every row, not the causes that rows share.")
@click.option("--mark", is_flag=True, help="Write a copy of each workbook, with the problems at their cells.")
@click.pass_context
def check(ctx: click.Context, batch: Path, catalog: Path, as_json: bool, every_row: bool, mark: bool) -> None:
    """Read BATCH against the catalogue and list what to settle, by cause. Enters nothing."""
    from catalog.connection import open_catalog
    from catalog.entering import check_batch

    db = open_catalog(catalog, readonly=True) if catalog.exists() else None
    with bar_on(sys.stderr) as progress:
        report = check_batch(batch, catalog=db, progress=progress, foresee=_foresee_and_propose)
    if as_json:
        print_json(report.to_json())
    else:
        _print_report(report, every_row=every_row)
    if mark:
        _mark(batch, report)
    if report.problems:
        ctx.exit(1)


def _foresee(checked: Checked, db: Database | None) -> Foreseen:
    """What a build would say: it is asked here, since the catalogue knows nothing of the builder."""
    from builder.publishing.making.entry_check import foresee

    return foresee(checked, db, now=datetime.now(UTC))


def _foresee_and_propose(checked: Checked, db: Database | None) -> Foreseen:
    """The same, and what results that were repeated suggest for `[method]`."""
    from builder.publishing.making.entry_check import foresee
    from builder.registers.scatter_proposals import method_warnings
    from catalog.entering import WouldBe

    now = datetime.now(UTC)
    with closing(WouldBe(checked, db, now=now)) as would_be:
        problems, warnings = foresee(checked, db, now=now, would_be=would_be)
        return problems, [*warnings, *method_warnings(checked, db, now=now, would_be=would_be)]


def _print_report(report: CheckReport, *, every_row: bool) -> None:
    from builder import wording
    from catalog.errors import MOST_LINES
    from catalog.problems import causes_of, listing

    end = 2 if report.repairs else 1  # lines after the lists
    if every_row:
        lines = [*map(str, report.problems), *(f"Look at: {warning}" for warning in report.warnings)]
    else:
        lines = listing(report.problems, most=MOST_LINES - end - bool(report.warnings))
        lines += listing(report.warnings, most=MOST_LINES - end - len(lines), prefix="Look at: ")
    for line in lines:
        click.echo(line)
    if report.repairs:
        repaired = wording.listing([f"{count} {what}" for what, count in sorted(report.repairs.items())])
        click.echo(f"Repaired on reading: {repaired}.")
    rows = f"{wording.count(report.rows_read, 'row')} read, {report.rows_new} new"
    rows += f", {report.rows_planned} planned and left out" if report.rows_planned else ""
    if report.problems:
        held = wording.count(len(report.problems), "problem")
        if (causes := len(causes_of(report.problems))) < len(report.problems):
            held += f" with {wording.count(causes, 'cause')}"
        click.echo(f"{report.batch}: {rows}. {held} to settle; nothing can be entered until then.")
    elif report.already_entered:
        click.echo(f"{report.batch}: already entered in batch {report.already_entered}, 0 new rows.")
    else:
        click.echo(f"{report.batch}: {rows}. Ready to enter.")


def _mark(batch: Path, report: CheckReport) -> None:
    from catalog.books.marking import write_marked

    by_file: dict[str, list[str]] = {}
    for file, title in report.sheets:
        by_file.setdefault(file, []).append(title)
    folder = batch if batch.is_dir() else batch.parent
    for file, titles in by_file.items():
        copy = write_marked(folder, file, titles, problems=report.problems, warnings=report.warnings)
        click.echo(f"{copy} written: {file} as it was read, with what to settle at its cells.", err=True)
    if not by_file:
        click.echo("No sheet of a workbook was read, so there is nothing to mark.", err=True)


@click.command()
@click.argument("batch", type=_folder)
@catalog_option
def enter(batch: Path, catalog: Path) -> None:
    """Enter BATCH into the catalogue, all of it or nothing."""
    from builder import wording
    from catalog.entering import enter_batch
    from catalog.errors import MOST_LINES
    from catalog.problems import listing

    with bar_on(sys.stderr) as progress:
        report = enter_batch(batch, into=catalog, now=datetime.now(UTC), progress=progress, foresee=_foresee)
    for line in listing(report.warnings, most=MOST_LINES - 1, prefix="Look at: "):
        click.echo(line, err=True)
    if report.already_entered:
        click.echo(f"{report.batch}: already entered in batch {report.already_entered}, 0 new rows.")
    elif not report.rows_read:
        click.echo(f"{report.batch}: entered; it has no rows of results.{_planned(report.rows_planned)}")
    else:
        rows = f"{wording.count(report.rows_new, 'new row')} of {report.rows_read} read"
        click.echo(f"{report.batch}: {rows}.{_planned(report.rows_planned)}")


def _planned(rows: int) -> str:
    """What is said of rows that are still to be measured; "" for none."""
    from builder import wording

    if not rows:
        return ""
    return f" {wording.count(rows, 'planned row')} left out; measured later, they want a batch with another id."


@click.command()
@click.argument("batch_id")
@catalog_option
def undo(batch_id: str, catalog: Path) -> None:
    """Take the batch BATCH_ID, not yet published, back out of the catalogue, whole."""
    from catalog.connection import open_catalog
    from catalog.entering import undo_batch

    undo_batch(batch_id, catalog=open_catalog(catalog, readonly=False))
    click.echo(f"{batch_id}: taken out; the catalogue is as it was before.")


@click.command()
@click.argument("file", type=_folder)
@catalog_option
def correct(file: Path, catalog: Path) -> None:
    """Apply the corrections in FILE. Nothing is overwritten: the old values stay and are shown."""
    from builder import wording
    from builder.publishing.changing.touched import said_by_articles, touched
    from catalog.connection import open_catalog
    from catalog.correcting import correct_file

    now = datetime.now(UTC)
    db = open_catalog(catalog, readonly=False)
    before = said_by_articles(catalog, as_of=now)
    report = correct_file(file, catalog=db, now=now)
    db.close()
    click.echo(f"{file}: {wording.count(report.applied, 'correction')} applied, {report.known} already known.")
    if report.applied:
        print_touched(touched(before, said_by_articles(catalog, as_of=now)))

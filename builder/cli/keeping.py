"""Verbs that keep a catalogue for years: dump, load, export, verify."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import BinaryIO

import click

from builder.cli.program import catalog_option, json_option, print_json
from catalog.errors import CatalogUnusable

_path = click.Path(path_type=Path)


@click.command()
@click.argument("file", type=_path)
@catalog_option
def dump(file: Path, catalog: Path) -> None:
    """Write the whole catalogue as plain text in a stable order to FILE (- for standard output)."""
    from catalog.connection import open_catalog
    from catalog.exporting import dump as written
    from catalog.exporting import dump_to

    db = open_catalog(catalog, readonly=True)
    if str(file) == "-":
        written(db, sys.stdout.buffer)
        return
    dump_to(db, file)
    click.echo(f"{catalog} written to {file}.", err=True)


@click.command()
@click.argument("file", type=_path)
@catalog_option
def load(file: Path, catalog: Path) -> None:
    """Read a dump from FILE (- for standard input) into a new catalogue."""
    from catalog.exporting import load as read

    def reading(source: BinaryIO) -> None:
        read(source, catalog)

    if str(file) == "-":
        reading(sys.stdin.buffer)
    else:
        with file.open("rb") as source:
            reading(source)
    click.echo(f"{catalog} holds what {'the dump' if str(file) == '-' else file} held.", err=True)


@click.command()
@click.argument("folder", type=_path)
@click.option("--workbook", is_flag=True, help="Write each batch as one workbook, its logs and pictures beside it.")
@catalog_option
def export(folder: Path, workbook: bool, catalog: Path) -> None:
    """Write every batch and corrections file back into FOLDER, in the order of entry."""
    from builder import wording
    from catalog.connection import open_catalog

    db = open_catalog(catalog, readonly=True)
    refused: list[str] = []
    left: list[str] = []
    if workbook:
        from catalog.books import export_workbooks

        batches, left = export_workbooks(db, folder, refused=refused.append)
    else:
        from catalog.exporting import export_batches

        batches = export_batches(db, folder, refused=refused.append)
    click.echo(f"{wording.count(len(batches), 'folder or file', 'folders and files')} written to {folder}.")
    for batch_id in left:
        click.echo(f"{batch_id} says what no sheet can hold, and is the folder that was entered.")
    for sentence in refused:
        click.echo(f"{sentence} What follows it was not tried.", err=True)


@click.command()
@catalog_option
@json_option
@click.pass_context
def verify(ctx: click.Context, catalog: Path, as_json: bool) -> None:
    """Check the integrity of the catalogue and of its raw files; ends with 3 where something is damaged."""
    from builder import wording
    from catalog.connection import open_catalog
    from catalog.exporting import verify as findings_of

    findings = findings_of(open_catalog(catalog, readonly=True))
    if as_json:
        print_json({"catalog": str(catalog), "findings": [str(f) for f in findings]})
    elif findings:
        for finding in findings:
            click.echo(str(finding))
        click.echo(f"{catalog}: {wording.count(len(findings), 'finding')}.")
    else:
        click.echo(f"{catalog}: sound.")
    if findings:
        ctx.exit(CatalogUnusable.exit_code)

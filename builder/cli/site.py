"""Verbs that make a site: build, demo."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, quoted
from catalog.errors import InputRefused

if TYPE_CHECKING:
    from builder.publishing.changing.touched import Touched
    from builder.publishing.checking.reports import BuildReport

jobs_option = click.option(
    "--jobs", type=click.IntRange(1), default=lambda: os.cpu_count() or 1, help="Worker processes [default: all cores]."
)


@click.command()
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("site"), show_default=True, help="The site's folder."
)
@jobs_option
@click.option("--stills", is_flag=True, help="Also pictures for video, of every figure in an article, below stills/.")
@catalog_option
@as_of_option
def build(out: Path, jobs: int, stills: bool, catalog: Path, as_of: datetime) -> None:
    """Build the public site: what may be seen at the build instant, and nothing else."""
    report = _build(catalog, out, as_of=as_of, jobs=jobs, stills=stills)
    print_warnings(report)
    click.echo(_built(report, out, as_of))


@click.command()
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("site"), show_default=True, help="The site's folder."
)
@jobs_option
@catalog_option
def demo(out: Path, jobs: int, catalog: Path) -> None:
    """Enter the invented demo bench into a new catalogue and build its site."""
    import tomllib

    from builder import wording
    from builder.shipped import demo_folder
    from catalog.connection import open_catalog
    from catalog.correcting import correct_file
    from catalog.entering import enter_batch

    if catalog.exists():
        raise InputRefused(
            f"{catalog} holds a catalogue already, and the demo wants a new one. Name another with --catalog."
        )
    folder = demo_folder()
    plan = tomllib.loads((folder / "demo.toml").read_text(encoding="utf-8"))
    as_of = datetime.fromisoformat(plan["build_instant"]).astimezone(UTC)
    with click.progressbar(plan["order"], label="Entering batches", file=sys.stderr) as names:
        rows = sum(
            enter_batch(folder / "batches" / name, into=catalog, now=datetime.now(UTC)).rows_new for name in names
        )
    db = open_catalog(catalog, readonly=False)
    for name in plan.get("corrections", []):
        correct_file(folder / name, catalog=db, now=datetime.now(UTC))
    db.close()
    report = _build(catalog, out, as_of=as_of, jobs=jobs)
    print_warnings(report)
    click.echo(
        f"{wording.count(len(plan['order']), 'batch', 'batches')} entered, {rows} rows, into {catalog}.\n"
        + _built(report, out, as_of)
        + "\n"
        + plan["try"].strip().format(catalog=quoted(catalog), out=out)
    )


def _build(catalog: Path, out: Path, *, as_of: datetime, jobs: int, stills: bool = False) -> BuildReport:
    from builder.publishing.keeping.unchanged import built_before

    cache = build_cache()
    report = built_before(catalog, out=out, as_of=as_of, cache=cache, stills=stills)
    if report is not None:
        return report
    from catalog.connection import open_catalog

    open_catalog(catalog, readonly=True).close()  # say at once what is wrong with it
    from builder.publishing.making.build import build_site

    return build_site(
        catalog,
        out=out,
        as_of=as_of,
        jobs=jobs,
        cache=cache,
        progress=say_progress,
        stills=stills,
    )


def build_cache() -> Path:
    """Where all that builds keep for the next is stored; safe to delete."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "likeloss" / "charts"


def say_progress(text: str) -> None:
    """Print what is being done, if a person is watching."""
    if sys.stderr.isatty():
        click.echo(text, err=True)


def print_warnings(report: BuildReport) -> None:
    """Print what an author should look at."""
    for warning in report.warnings:
        click.echo(f"Look at: {warning}", err=True)


def print_touched(touched: Sequence[Touched]) -> None:
    """Print what to redo in articles and stills, if anything."""
    if touched:
        click.echo("In articles, look at or make again:")
    for one in touched:
        click.echo(f"  {one}")


def _built(report: BuildReport, out: Path, as_of: datetime) -> str:
    stills = f", {report.stills} stills below {out / 'stills'}" if report.stills else ""
    return (
        f"{report.pages} pages and {report.charts} charts{stills} as of {instant_text(as_of)}.\n"
        f"Open {out / 'index.html'} in a browser; no server is needed."
    )

"""Verbs that put a site before the public, and take it back: publish, rollback."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option
from builder.cli.site import chart_cache, jobs_option, say_progress

_folder = click.Path(path_type=Path)


@click.command()
@click.argument("folder", type=_folder, metavar="DIR")
@jobs_option
@catalog_option
@as_of_option
def publish(folder: Path, jobs: int, catalog: Path, as_of: datetime) -> None:
    """Build the site, check it, say what changes and why, and put it at DIR in one step.

    The version before is kept beside it, at DIR.earlier; `rollback DIR` brings it back.
    """
    from builder.publishing.publishing import publish_site

    report = publish_site(
        catalog, folder, as_of=as_of, now=datetime.now(UTC), jobs=jobs, cache=chart_cache(), progress=say_progress
    )
    click.echo(f"{folder} shows {report.built.pages} pages as of {instant_text(as_of)}.")
    if report.earlier is not None:
        click.echo(f"The version before is kept at {report.earlier}; `likeloss rollback {folder}` brings it back.")


@click.command()
@click.argument("folder", type=_folder, metavar="DIR")
@catalog_option
def rollback(folder: Path, catalog: Path) -> None:
    """Bring the earlier version of the site at DIR back, in one step; the newer one becomes DIR.earlier.

    The catalogue is not asked: what was withdrawn since the earlier version was published is visible again in it.
    """
    from builder.publishing.publishing import roll_back_site

    newer = roll_back_site(folder)
    click.echo(f"{folder} shows the earlier version again; the newer one lies at {newer}.")
    click.echo("What was withdrawn or corrected in between is not in it: publish again as soon as you can.")

"""Verbs that put a site before the public, say what changes by it, and take it back: publish, changes, rollback."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json
from builder.cli.site import chart_cache, jobs_option, say_progress

if TYPE_CHECKING:
    from builder.publishing.changes import Changes

MOST_LISTED = 20  # changed figures that publish lists; `changes` lists all

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
    if report.changes is not None:
        _print_changes(report.changes, most=MOST_LISTED)
    click.echo(f"{folder} shows {report.built.pages} pages with {report.figures} figures as of {instant_text(as_of)}.")
    if report.earlier is not None:
        click.echo(f"The version before is kept at {report.earlier}; `likeloss rollback {folder}` brings it back.")


@click.command()
@click.option(
    "--since", type=_folder, default=Path("site"), show_default=True, metavar="BUILD",
    help="The folder of the published site to compare with.",
)  # fmt: skip
@catalog_option
@as_of_option
@json_option
@click.pass_context
def changes(ctx: click.Context, since: Path, catalog: Path, as_of: datetime, as_json: bool) -> None:
    """Every public figure that differs between the published site and now, each with its cause.

    Ends with 1 where a change has no cause: `publish` would stop there.
    """
    from builder.publishing.changes import changes_since

    found = changes_since(catalog, since, as_of=as_of)
    if as_json:
        print_json(found.to_json())
    else:
        _print_changes(found, most=len(found.figures))
    if found.without_cause:
        ctx.exit(1)


def _print_changes(found: Changes, *, most: int) -> None:
    from builder import wording

    for change in found.figures[:most]:
        click.echo(str(change))
    if len(found.figures) > most:
        click.echo(f"… and {len(found.figures) - most} more; `likeloss changes` lists all before you publish.")
    for row in found.unexplained:
        click.echo(f"Changed past batches and corrections: {row}.")
    many = wording.count(len(found.figures), "public figure differs", "public figures differ")
    click.echo(f"{many} from what was published as of {found.since}.")


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

"""Verbs around publishing: publish, changes, rollback."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.addresses import STILLS
from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json, quoted
from builder.cli.site import build_cache, jobs_option, print_touched, print_warnings, say_progress

if TYPE_CHECKING:
    from builder.publishing.changing.changes import Changes

MOST_LISTED = 20  # changed figures that publish lists; `changes` lists all

_folder = click.Path(path_type=Path)


@click.command()
@click.argument("folder", type=_folder, metavar="DIR")
@jobs_option
@click.option(
    "--stills",
    is_flag=True,
    help="Also pictures for video, of every figure in an article; a site that has them keeps them up to date.",
)
@catalog_option
@as_of_option
def publish(folder: Path, jobs: int, stills: bool, catalog: Path, as_of: datetime) -> None:
    """Build the site, check it, say what changes and why, and put it at DIR in one step.

    The version before is kept beside it, at DIR.earlier; `rollback DIR` brings it back. None is kept where it shows
    what is hidden or withdrawn now.
    """
    from builder.publishing.making.publishing import publish_site

    report = publish_site(
        catalog,
        folder,
        as_of=as_of,
        now=datetime.now(UTC),
        jobs=jobs,
        cache=build_cache(),
        progress=say_progress,
        stills=stills,
    )
    print_warnings(report.built)
    if report.changes is not None:
        _print_changes(report.changes, most=MOST_LISTED)
    pictures = f", and {report.built.stills} stills below {folder / STILLS}" if report.built.stills else ""
    click.echo(
        f"{folder} shows {report.built.pages} pages with {report.figures} figures{pictures} as of {instant_text(as_of)}."
    )
    for review in report.waiting:
        click.echo(f"The review {review.id} waits until {review.until_utc}: what it is about is hidden until then.")
    if report.gone:
        click.echo("No earlier version is kept: it would show what is hidden or withdrawn now.")
    if report.earlier is not None:
        click.echo(
            f"The version before is kept at {report.earlier}; `likeloss rollback {quoted(folder)}` brings it back."
        )


@click.command()
@click.option(
    "--since",
    type=_folder,
    default=Path("site"),
    show_default=True,
    metavar="BUILD",
    help="The folder of the published site to compare with.",
)
@catalog_option
@as_of_option
@json_option
@click.pass_context
def changes(ctx: click.Context, since: Path, catalog: Path, as_of: datetime, as_json: bool) -> None:
    """Every public figure that differs between the published site and now, each with its cause.

    Ends with 1 where a change has no cause: `publish` would stop there.
    """
    from builder.publishing.changing.changes import changes_since

    result = changes_since(catalog, since, as_of=as_of)
    if as_json:
        print_json(result.to_json())
    else:
        _print_changes(result, most=len(result.figures))
    if result.without_cause:
        ctx.exit(1)


def _print_changes(differing: Changes, *, most: int) -> None:
    from builder import wording

    for change in differing.figures[:most]:
        click.echo(str(change))
    if len(differing.figures) > most:
        click.echo(f"… and {len(differing.figures) - most} more; `likeloss changes` lists all before you publish.")
    for row in differing.unexplained:
        click.echo(f"{row} changed, but no batch or correction explains it.")
    many = wording.count(len(differing.figures), "public figure differs", "public figures differ")
    print_touched(differing.redo)
    click.echo(f"{many} from what was published as of {differing.since}.")


@click.command()
@click.argument("folder", type=_folder, metavar="DIR")
@catalog_option
def rollback(folder: Path, catalog: Path) -> None:
    """Bring the earlier version of the site at DIR back, in one step; the newer one becomes DIR.earlier.

    Refused where it shows what the catalogue hides or has withdrawn now; publish again instead.
    """
    from builder.publishing.making.publishing import roll_back_site

    newer = roll_back_site(folder, catalog=catalog, now=datetime.now(UTC).replace(microsecond=0))
    click.echo(f"{folder} shows the earlier version again; the newer one lies at {newer}.")
    click.echo("What was corrected in between is not in it: publish again as soon as you can.")

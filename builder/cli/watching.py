"""The verb that goes along with a bench day: watch."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from builder.cli.program import catalog_option
from builder.cli.site import say_progress


@click.command()
@click.argument("batch", type=click.Path(path_type=Path))
@click.option("--port", type=click.IntRange(0, 65535), default=8041, show_default=True, help="0 takes a free one.")
@partial(catalog_option, opens=False)
def watch(batch: Path, port: int, catalog: Path) -> None:
    """Follow BATCH while it is measured, on a page of this machine.

    Each log is read as it lands: what is wrong with it or with its run is said while the device still hangs there, and
    what the results say so far. No table and no workbook is written, nor the catalogue: rows and answers go to the
    folder desk/ of the batch after a click that shows them. Ctrl-C ends it.
    """
    from builder.desk.guarding import socket_of
    from builder.watching.serving import serve
    from builder.watching.watch import Watch

    on = socket_of(port)  # a port that is taken is named before the work
    try:
        say_progress("Reading the batch and what is known …")

        def ready() -> None:
            host, chosen = on.getsockname()[:2]
            click.echo(f"{batch}: look at http://{host}:{chosen}/ on this machine; Ctrl-C ends it.")

        serve(Watch(batch, catalog), on, ready=ready)
    except KeyboardInterrupt:  # how a bench day ends, and not before something was changed
        click.echo("The watch has ended. It wrote nothing but what you let it write to desk/.", err=True)
        sys.exit(130)
    finally:
        on.close()

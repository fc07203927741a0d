"""The verb that looks at everything before it is public: preview."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option
from builder.cli.site import say_progress


@click.command()
@click.argument("batches", nargs=-1, type=click.Path(path_type=Path), metavar="[BATCH]...")
@click.option("--port", type=click.IntRange(0, 65535), default=8040, show_default=True, help="0 takes a free one.")
@catalog_option
@as_of_option
def preview(batches: tuple[Path, ...], port: int, catalog: Path, as_of: datetime) -> None:
    """Look at the whole site on this machine, hidden things included and marked, each BATCH as if it were entered.

    Pages are composed when they are asked for. An edit to an article, a batch, a workbook, the catalogue or a template
    is shown by itself; what is wrong is named on the page. Nothing is entered and no site is written. Ctrl-C ends it.
    """
    import gc
    import sys

    from builder.desk.first_copy import begun_copy
    from builder.desk.guarding import socket_of

    on = socket_of(port)  # a port that is taken is named before the work
    # Between its statements SQLite waits for its turn while the program is loaded, and should not wait long.
    usual_s = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    gc.disable()  # until the desk has begun: of all that is made nothing is thrown away
    try:
        say_progress("Reading everything, hidden or not …")
        first = begun_copy(catalog, batches, as_of=as_of)
        from builder import shipped
        from builder.desk.desk import Desk
        from builder.desk.serving import serve

        desk = Desk(first, shipped.templates_folder())
        desk.begin()
        sys.setswitchinterval(usual_s)
        told: set[str] = set()

        def tell() -> None:
            for trouble in desk.state.troubles:
                if trouble.title not in told:
                    told.add(trouble.title)
                    click.echo(trouble.title, err=True)

        tell()
        desk.settled = tell

        def ready() -> None:
            host, chosen = on.getsockname()[:2]
            click.echo(f"Everything as of {instant_text(as_of)}, hidden things included. Not for the public.")
            click.echo(f"Look at http://{host}:{chosen}/ on this machine; Ctrl-C ends it.")

        serve(desk, on, ready=ready)
    finally:
        sys.setswitchinterval(usual_s)
        gc.enable()
        on.close()

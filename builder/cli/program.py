"""The program `likeloss`: its verbs, the options all of them share, and how failures end."""

from __future__ import annotations

import gc
import os
import shlex
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import click

from catalog.errors import CatalogError, CatalogUnusable

Command = TypeVar("Command", bound=Callable[..., Any])

# Verb -> (module, attribute). The module is imported when the verb is used, so that --help stays quick.
VERBS: dict[str, tuple[str, str]] = {
    "new": ("builder.cli.beginning", "new"),
    "check": ("builder.cli.entry", "check"),
    "enter": ("builder.cli.entry", "enter"),
    "undo": ("builder.cli.entry", "undo"),
    "correct": ("builder.cli.entry", "correct"),
    "map": ("builder.cli.beginning", "propose"),
    "coverage": ("builder.cli.beginning", "coverage"),
    "plan": ("builder.cli.planning", "plan"),
    "watch": ("builder.cli.watching", "watch"),
    "show": ("builder.cli.showing", "show"),
    "compare": ("builder.cli.asking", "compare"),
    "rank": ("builder.cli.asking", "rank"),
    "reach": ("builder.cli.asking", "reach"),
    "roles": ("builder.cli.under_load", "roles"),
    "longrun": ("builder.cli.under_load", "longrun"),
    "link": ("builder.cli.linking", "link"),
    "trace": ("builder.cli.tracing", "trace"),
    "build": ("builder.cli.site", "build"),
    "preview": ("builder.cli.previewing", "preview"),
    "publish": ("builder.cli.publishing", "publish"),
    "changes": ("builder.cli.publishing", "changes"),
    "rollback": ("builder.cli.publishing", "rollback"),
    "dump": ("builder.cli.keeping", "dump"),
    "load": ("builder.cli.keeping", "load"),
    "export": ("builder.cli.keeping", "export"),
    "verify": ("builder.cli.keeping", "verify"),
    "demo": ("builder.cli.site", "demo"),
}
SUMMARIES: dict[str, str] = {
    "new": "Begin a batch: a commented skeleton, and a sheet of every cell to measure.",
    "check": "Read a batch against the catalogue and list every problem; writes nothing.",
    "enter": "Enter a batch, all of it or nothing.",
    "undo": "Take an unpublished batch back out, whole.",
    "correct": "Apply a corrections file; old values are kept and shown.",
    "map": "Propose how to read a foreign log.",
    "coverage": "Which cells of a device are done, missing or not possible.",
    "plan": "What to measure next: spots, repeats and days, and what they would show.",
    "watch": "A bench day while it goes on: logs read as they land, what is wrong, and the results so far.",
    "show": "What is known and measured of a device, or of a client setup.",
    "compare": "Compare two devices at like attenuation, level or spot.",
    "rank": "Rank devices over a fixed window of attenuation.",
    "reach": "The attenuation at which a device loses a rate.",
    "roles": "What each client got while several were busy at once.",
    "longrun": "How steady a device is over hours.",
    "link": "Compare two devices that never met the same client, over bridges.",
    "trace": "A figure back to its formula and the rows it came from.",
    "build": "Build the public site into a folder.",
    "preview": "Look at everything on this machine, hidden or not, batches as if entered; follows edits.",
    "publish": "Build, check, say what changes and why, and put the site in place in one step.",
    "changes": "Every public figure that changed since it was published, with its cause.",
    "rollback": "Bring the earlier version of a published site back.",
    "dump": "Write the whole catalogue as plain text.",
    "load": "Read a dump into a new catalogue.",
    "export": "Write the batches back as folders.",
    "verify": "Check the integrity of the catalogue and its raw files.",
    "demo": "Enter the invented demo bench, build its site, and say where to look.",
}


# Nearly all that a verb reads it keeps: looking for garbage among it as often as usual takes a tenth of its time.
_COLLECT_AFTER = 500_000, 50, 100


@dataclass
class Settings:
    """The options before the verb, and the catalogue that the verb uses, if any."""

    catalog: Path | None = None
    debug: bool = False
    used: Path | None = None


class Program(click.Group):
    """A group whose verbs are imported when used and whose failures are sentences."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        from importlib import import_module

        module, attribute = VERBS[cmd_name]
        command = getattr(import_module(module), attribute)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl(list(SUMMARIES.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run the verb. An unforeseen failure is blamed on the catalogue if that is damaged."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort, CatalogError, OSError):
            raise
        except Exception as failure:
            from catalog.exporting import damage_of

            catalog = ctx.ensure_object(Settings).used
            damage = damage_of(catalog) if catalog is not None else None
            if damage is None:
                raise
            raise CatalogUnusable(
                f"{catalog} is damaged: {damage} Restore a copy, or load a dump; `likeloss verify` lists the rest."
            ) from failure

    def main(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Run, and end with the exit code of commands.md: 0, 1, 2, 3 or 130."""
        kwargs["standalone_mode"] = False
        gc.set_threshold(*_COLLECT_AFTER)
        try:
            ended = super().main(*args, **kwargs)  # without standalone mode, the code a verb exited with
        except click.ClickException as wrong:
            wrong.show()
            sys.exit(wrong.exit_code)
        except (click.Abort, KeyboardInterrupt):
            _say("Interrupted; nothing was changed.")
            sys.exit(130)
        except BrokenPipeError:
            # The reader of our output has gone, which is not our failure.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(0)
        except Exception as failure:
            if "--debug" in sys.argv:
                raise
            sys.exit(_explain(failure))
        sys.exit(ended if isinstance(ended, int) else 0)


def _explain(failure: Exception) -> int:
    """Say what went wrong in a sentence and return the exit code."""
    import sqlite3

    if isinstance(failure, CatalogError):
        _say(str(failure))
        return failure.exit_code
    if isinstance(failure, sqlite3.Error):
        from catalog.connection import not_written

        if (refused := not_written(failure)) is not None:
            _say(str(refused))
            return refused.exit_code
    if isinstance(failure, OSError):
        name = f" {failure.filename}" if failure.filename else ""
        _say(f"Could not use{name}: {(failure.strerror or str(failure)).lower()}. Nothing was changed.")
        return 1
    _say(f"Something went wrong inside Likeloss ({type(failure).__name__}: {failure}). --debug shows where.")
    return 1


def _say(text: str) -> None:
    click.echo(text, err=True)


@click.group(
    cls=Program,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Exit codes: 0 done, 1 refused, 2 wrong usage, 3 catalogue unusable, 130 interrupted.",
)
@click.option("--catalog", type=click.Path(path_type=Path), envvar="LIKELOSS_CATALOG", help="The catalogue file.")
@click.option("--debug", is_flag=True, help="Show the traceback of a failure.")
@click.version_option(package_name="likeloss", message="likeloss %(version)s")
@click.pass_context
def main(ctx: click.Context, catalog: Path | None, debug: bool) -> None:
    """Keeps access-point tests in a catalogue, compares like with like at like loss, and builds a site of it."""
    ctx.obj = Settings(catalog, debug)


def catalog_option(command: Command, *, opens: bool = True) -> Command:
    """`--catalog` and `--debug` after the verb, too; the command receives `catalog: Path`.

    opens  whether it opens the catalogue in this very process
    """

    def chosen(ctx: click.Context, _: click.Parameter, value: Path | None) -> Path:
        if opens:
            from catalog.light_imports import import_lightly

            import_lightly()  # behind --help, before any module of the verb asks for it
        settings = ctx.ensure_object(Settings)
        settings.used = value or settings.catalog or Path("catalog.db")
        return settings.used

    with_debug = click.option("--debug", is_flag=True, expose_value=False, help="Show the traceback of a failure.")
    with_catalog = click.option(
        "--catalog", type=click.Path(path_type=Path), callback=chosen, help="The catalogue file [default: catalog.db]."
    )
    return with_catalog(with_debug(command))


json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")


def print_json(document: Any) -> None:
    """One JSON document, full precision, in the order it was made."""
    import json

    click.echo(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))


def print_lines(lines: Sequence[str]) -> None:
    """Lines on standard output."""
    click.echo("\n".join(lines))


def quoted(path: Path) -> str:
    """A path as a shell takes it, in a command that is printed to be repeated."""
    return shlex.quote(str(path))

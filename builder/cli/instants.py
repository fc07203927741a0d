"""The build instant on the command line: an input, never a clock inside the program."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


def instant_text(at: datetime) -> str:
    """UTC in whole seconds: "2026-06-30T12:00:00Z"."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _parsed(ctx: click.Context, param: click.Parameter, value: str | None) -> datetime:
    if value is None:
        return datetime.now(UTC).replace(microsecond=0)
    try:
        at = datetime.fromisoformat(value)
    except ValueError:
        raise click.BadParameter(f"{value!r} is not a time such as 2026-06-30T12:00:00Z.") from None
    if at.tzinfo is None:
        raise click.BadParameter(f"{value!r} has no offset. Write 2026-06-30T12:00:00Z or …+02:00.")
    return at.astimezone(UTC).replace(microsecond=0)


def as_of_option(command: Command) -> Command:
    """`--as-of INSTANT`: what may be seen at that instant; now in whole seconds without it."""
    return click.option(
        "--as-of", callback=_parsed, metavar="INSTANT", help="Show what may be seen at this instant [default: now]."
    )(command)

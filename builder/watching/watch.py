"""A watch as the page's server has it: the state now, and what a click does. The work is done in a process of its own.

The server imports this and nothing that reads a log: while nothing happens, it is all that is left in memory.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from builder.watching.states import Place, State

Typed = Mapping[Place, Mapping[str, str]]
"""What the tester typed on the page: planned row -> column (level_dbm, note, when) -> text."""


@dataclass
class Watch:
    """The watch of one batch, in one event loop.

    changed  called in the loop after each change of `state`, which is when `version` has gone up
    """

    batch: Path
    catalog: Path
    changed: Callable[[], None] = lambda: None
    state: State = field(default_factory=lambda: State(""))
    version: int = 0

    async def begin(self) -> None:
        """Look for the first time. Raises InputRefused where there is no batch, CatalogUnusable."""
        raise NotImplementedError

    async def follow(self, stop: asyncio.Event) -> None:
        """Look again at each change of a file, until *stop*."""
        raise NotImplementedError

    async def write(self, key: str, typed: Typed) -> list[str]:
        """Write what `state.writing` of this key showed, with what was typed beside it.

        Returns  why nothing was written, in sentences; none where it was.
        """
        raise NotImplementedError

    async def settle(self, place: Place, code: str, answer: str, *, column: str = "") -> list[str]:
        """Answer the question of a sense (its place, code and column); returns sentences of refusal."""
        raise NotImplementedError

    async def give(self, log: str, place: Place | None) -> list[str]:
        """Say which planned row another log is of, None to take that back; returns sentences of refusal."""
        raise NotImplementedError

    async def type_in(self, typed: Typed) -> list[str]:
        """Look again with what was typed on the page until now; it is kept until it is written."""
        raise NotImplementedError

    def close(self) -> None:
        """Let the process go, and take away what was kept of logs."""

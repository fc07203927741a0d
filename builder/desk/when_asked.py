"""Results whose parts are worked out when a page first asks for them, so that the first page waits only for its own."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import get_ident
from typing import Any

from builder.pages.parts.when_asked import PARTS, PartsWhenAsked
from builder.pages.worked_out import WorkedOut


class ResultsWhenAsked(PartsWhenAsked):
    """Results whose parts are worked out in the one thread of *maker*, which alone may use the copy.

    Whoever asks elsewhere waits for it. It never waits for others, so nobody waits for ever.
    """

    def __init__(self, worked: WorkedOut, maker: ThreadPoolExecutor) -> None:
        super().__init__(worked)
        self.__dict__ |= {"_maker": maker, "_home": get_ident()}

    def __getattr__(self, name: str) -> Any:
        """Called for parts that were not asked for before."""
        if name not in PARTS or get_ident() == self._home:
            return super().__getattr__(name)
        return self._maker.submit(getattr, self, name).result()

    def next_part(self) -> str | None:
        """A part that nobody has asked for; None once all are there."""
        return next((name for name in PARTS if name not in self.__dict__), None)

"""Results whose parts are worked out when a page first asks for them, so that the first page waits only for its own."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields
from threading import get_ident
from typing import Any, TypeVar

from builder.pages.contents import Results
from builder.pages.worked_out import WorkedOut

Key = TypeVar("Key")
Value = TypeVar("Value")

PARTS = tuple(field.name for field in fields(Results))


class MadeWhenAsked(Mapping[Key, Value]):
    """A mapping with these keys, whose values are made by *make* when they are first asked for."""

    def __init__(self, keys: Iterable[Key], make: Callable[[Key], Value]) -> None:
        self._keys = dict.fromkeys(keys)
        self._make = make
        self._made: dict[Key, Value] = {}

    def __getitem__(self, key: Key) -> Value:
        if key not in self._made:
            if key not in self._keys:
                raise KeyError(key)
            self._made[key] = self._make(key)
        return self._made[key]

    def __contains__(self, key: object) -> bool:
        return key in self._keys

    def __iter__(self) -> Iterator[Key]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


class ResultsWhenAsked(Results):
    """Results of which each part is worked out when it is first asked for.

    Made in the one thread of *maker*, which alone may use the copy; whoever asks elsewhere waits for it. It never waits
    for others, so nobody waits for ever.
    """

    def __init__(self, worked: WorkedOut, maker: ThreadPoolExecutor) -> None:
        self.__dict__ |= {"_worked": worked, "_maker": maker, "_home": get_ident()}

    def __getattr__(self, name: str) -> Any:
        """Called for parts that were not asked for before."""
        if name not in PARTS:
            raise AttributeError(name)
        if get_ident() == self._home:
            return self.__dict__.setdefault(name, self._part(name))
        return self._maker.submit(getattr, self, name).result()

    def _part(self, name: str) -> Any:
        worked: WorkedOut = self._worked
        if name == "standing":
            return MadeWhenAsked(worked.largest, worked.standing_of)
        return getattr(worked, name)

    def next_part(self) -> str | None:
        """A part that nobody has asked for; None once all are there."""
        return next((name for name in PARTS if name not in self.__dict__), None)

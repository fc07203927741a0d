"""Results whose parts are worked out when something first asks for them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, TypeVar

from builder.bench.bench import Bench
from builder.bench.cells import Group
from builder.pages.contents import Results
from builder.pages.worked_out import WorkedOut
from builder.windows.ranking import Ranking, rank
from catalog.method import WINDOW_NAMES

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


class PartsWhenAsked(Results):
    """Results of which each part is worked out when it is first asked for, in the thread that may use the copy."""

    def __init__(self, worked: WorkedOut) -> None:
        self.__dict__["_worked"] = worked

    def __getattr__(self, name: str) -> Any:
        """Called for parts that were not asked for before."""
        if name not in PARTS:
            raise AttributeError(name)
        return self.__dict__.setdefault(name, self._part(name))

    def _part(self, name: str) -> Any:
        worked: WorkedOut = self._worked
        if name == "standing":
            return MadeWhenAsked(worked.device_windows, worked.standing_of)
        return getattr(worked, name)


def ranked_when_asked(bench: Bench, groups: Sequence[Group]) -> MadeWhenAsked[tuple[Group, str], Ranking]:
    """The rankings of these groups over all windows, each made when it is first asked for."""
    keys = [(group, window) for group in groups for window in WINDOW_NAMES]
    return MadeWhenAsked(keys, lambda key: rank(bench, *key))

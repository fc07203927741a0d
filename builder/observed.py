"""What a page looked at, so that it is made again only when something of that has changed.

An `Observed` stands for a record of mappings and sequences (pages/contents.py, bench/bench.py) and notes which
of its parts were asked for. The note of a page, with a digest of each part, is all that decides whether the page may
be kept: nobody has to say what it depends on, and nobody can forget to.

    catalogue.prices["dome-20"]       notes the prices of that device and no other
    for d in results.bench.devices    notes which devices there are, in which order
    catalogue.disputes                notes all disputes
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache, wraps
from operator import attrgetter
from typing import Any, TypeVar, cast

# Records by their id, each with its digest; held, because the id of one that is gone goes to another.
Known = dict[int, tuple[object, str]]
# Part of a record: its path in dots, and the text of a key of the mapping there; or one of the two below.
Look = tuple[str, str]
WHOLE = "*"
KEYS = "keys"

# Fields that number the rows of one copy. Another copy numbers the same rows otherwise, and who looks at a row by its
# number looks at the row itself as well.
NUMBERS = frozenset({"run_id", "run_ids"})

Method = TypeVar("Method", bound=Callable[..., Any])
_ASKED_ONCE = "asked_once"
_ANSWERS = "_answers"
_PLAIN = (str, int, float, bool, bytes, type(None))


def asked_once(method: Method) -> Method:
    """A method of a record whose answer is kept for all who ask the same of the record, or of an inventory of it."""

    @wraps(method)
    def asked(self: Any, *told: Any) -> Any:
        answers = self.__dict__.setdefault(_ANSWERS, {})
        key = method.__name__, told
        if key not in answers:
            answers[key] = method(self, *told)
        return answers[key]

    setattr(asked, _ASKED_ONCE, method)
    return cast(Method, asked)


class Inventory:
    """One record and the digests of its parts, each worked out when it is first asked for.

    opened  fields of the record that are records themselves and are looked into; all others are taken whole
    """

    def __init__(self, record: object, *, opened: tuple[str, ...] = ()) -> None:
        self.record = record
        self.opened = opened
        self._answers: dict[tuple[str, tuple[Any, ...]], tuple[Any, set[Look]]] = {}
        self._digests: dict[Look, str] = {}
        self._records: Known = {}
        self._keys: dict[str, dict[str, Any]] = {}

    def digest(self, look: Look) -> str:
        """SHA-256 of what a look sees today; of nothing where there is nothing there any more."""
        found = self._digests.get(look)
        if found is None:
            found = self._digests[look] = self._seen(look)
        return found

    def answer(self, path: str, method: Callable[..., Any], told: tuple[Any, ...], looks: set[Look]) -> Any:
        """What a method marked `asked_once` returns, and into *looks* what it looked at, whoever asked first.

        path  of the record it is a method of
        """
        key = f"{path}.{method.__name__}", told
        if key not in self._answers:
            own: set[Look] = set()
            try:
                self._answers[key] = method(Observed(self, own, path=path), *told), own
            finally:
                looks |= own
        found, own = self._answers[key]
        looks |= own
        return found

    def _seen(self, look: Look) -> str:
        path, key = look
        value: Any = self.record
        for name in path.split("."):
            value = getattr(value, name, None)
        if key == WHOLE:
            return digest_of(value, known=self._records)
        if key == KEYS:
            return digest_of(list(value or ()))
        if path not in self._keys:
            self._keys[path] = {text_of(known): known for known in value or ()}
        if key not in self._keys[path]:
            return ""
        return digest_of(value[self._keys[path][key]], known=self._records)


class Observed:
    """Stands for the record of an inventory, or one inside it, and puts what is looked at into *looks*."""

    def __init__(self, inventory: Inventory, looks: set[Look], *, path: str = "") -> None:
        self._inventory = inventory
        self._looks = looks
        self._path = path
        record = inventory.record
        for name in filter(None, path.split(".")):
            record = getattr(record, name)
        self._record = record

    def __getattr__(self, name: str) -> Any:
        """Only asked for what is not there yet: a part is watched once and then stays."""
        method: Any = getattr(type(self._record), name, None)
        if hasattr(method, _ASKED_ONCE):
            plain = getattr(method, _ASKED_ONCE)
            return lambda *told: self._inventory.answer(self._path, plain, told, self._looks)
        if callable(method):
            return method.__get__(self)
        value = getattr(self._record, name)
        path = f"{self._path}.{name}".lstrip(".")
        if path in self._inventory.opened:
            value = Observed(self._inventory, self._looks, path=path)
        elif isinstance(value, Mapping):
            value = _ObservedMapping(value, self._looks, path)
        else:
            self._looks.add((path, WHOLE))
        self.__dict__[name] = value
        return value


class _ObservedMapping(Mapping[Any, Any]):
    """A mapping that notes which of its keys were asked for."""

    def __init__(self, mapping: Mapping[Any, Any], looks: set[Look], path: str) -> None:
        self._mapping = mapping
        self._looks = looks
        self._path = path

    def __getitem__(self, key: Any) -> Any:
        self._looks.add((self._path, text_of(key)))
        return self._mapping[key]

    def __iter__(self) -> Iterator[Any]:
        self._looks.add((self._path, KEYS))
        return iter(self._mapping)

    def __len__(self) -> int:
        self._looks.add((self._path, KEYS))
        return len(self._mapping)

    def __contains__(self, key: object) -> bool:
        self._looks.add((self._path, text_of(key)))
        return key in self._mapping

    def values(self) -> Any:
        self._looks.add((self._path, WHOLE))
        return self._mapping.values()

    def items(self) -> Any:
        self._looks.add((self._path, WHOLE))
        return self._mapping.items()


def digest_of(value: object, *, known: Known | None = None) -> str:
    """SHA-256 of a value made of records, collections, texts, numbers and dates: equal for equal values, anywhere.

    known  digests of records that were met before
    """
    text = repr(_plain(value, {} if known is None else known))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def text_of(value: object) -> str:
    """The value as a text, the same in every process and another for every other value."""
    return repr(_plain(value, {}))


def _plain(value: object, known: Known) -> object:
    """The value in tuples, texts and numbers, whose repr holds no chance; a record in a collection by its digest.

    Raises  TypeError for a kind of value that nobody said how to write.
    """
    kind: Any = type(value)
    if kind in _PLAIN:
        return value
    if kind is tuple or kind is list:
        return [one if type(one) in _PLAIN else _part(one, known) for one in value]  # type: ignore[attr-defined]
    if is_dataclass(value):
        return (kind.__name__, *[one if type(one) in _PLAIN else _part(one, known) for one in _values(kind)(value)])
    if isinstance(value, Mapping):
        if _by_number(value):
            return ("rows", [_part(one, known) for one in value.values()])
        return ("mapping", [(_plain(key, {}), _part(one, known)) for key, one in value.items()])
    if isinstance(value, Set):
        return ("set", sorted(repr(_plain(one, {})) for one in value))
    if isinstance(value, date):
        return (kind.__name__, value.isoformat())
    if hasattr(value, "dtype"):  # of numpy, which is not needed to know one
        return (kind.__name__, str(value.dtype), value.tolist())  # type: ignore[attr-defined]
    raise TypeError(f"{kind.__name__} has no text that would be the same everywhere")


def _part(value: object, known: Known) -> object:
    """A part of a value. Many collections hold the same records, so each of these is read once."""
    if not is_dataclass(value):
        return _plain(value, known)
    found = known.get(id(value))
    if found is None:
        found = known[id(value)] = value, digest_of(value, known=known)
    return found[1]


def _by_number(value: Mapping[Any, Any]) -> bool:
    """Whether a mapping holds the rows of a copy by their number."""
    for key, one in value.items():
        return type(key) is int and is_dataclass(one) and any(field.name in NUMBERS for field in fields(one))
    return False


@cache
def _values(kind: type) -> Any:
    """What reads all fields of a dataclass at once that say something, as a tuple."""
    names = [field.name for field in fields(kind) if field.name not in NUMBERS]
    if len(names) > 1:
        return attrgetter(*names)
    return (lambda value: (getattr(value, names[0]),)) if names else (lambda value: ())

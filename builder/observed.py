"""Notes what a page or a file of data looked at, so that it is made again only when something of that has changed.

An `Observed` stands in for a record of mappings and sequences (pages/contents.py, bench/bench.py) and notes which of
its parts were read. These looks, with a digest of what each one sees, are all that decides whether the result of an
earlier build may be kept: nothing declares its dependencies, and none can be forgotten.

    catalogue.prices["dome-20"]       notes the prices of that device and of no other
    for d in results.bench.devices    notes which devices there are, and their order
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

import orjson

# Digests of records by id(). Each record is kept alive, because Python reuses the id() of a freed object.
Known = dict[int, tuple[object, str]]
# A part of a record: its path, and the text of a key of the mapping there or one of the two constants below.
# The path has dots between names, and brackets around the key of an opened mapping: results.bench.grouped['dome-20'].
Look = tuple[str, str]
WHOLE = "*"
KEYS = "keys"

# Fields that number the rows of one copy. Another copy numbers the same rows differently, so they are left out of
# digests; code that looks up a row by its number looks at the row itself, too.
NUMBERS = frozenset({"run_id", "run_ids"})

Method = TypeVar("Method", bound=Callable[..., Any])
_ASKED_ONCE = "asked_once"
_ANSWERS = "_answers"
_STRICT = orjson.OPT_PASSTHROUGH_DATACLASS | orjson.OPT_PASSTHROUGH_DATETIME | orjson.OPT_PASSTHROUGH_SUBCLASS
_PLAIN = (str, int, float, bool, bytes, type(None))


def asked_once(method: Method) -> Method:
    """Cache a record's method by its arguments, also when it is called through an Inventory."""

    @wraps(method)
    def asked(self: Any, *arguments: Any) -> Any:
        answers = self.__dict__.setdefault(_ANSWERS, {})
        key = method.__name__, arguments
        if key not in answers:
            answers[key] = method(self, *arguments)
        return answers[key]

    setattr(asked, _ASKED_ONCE, method)
    return cast(Method, asked)


class Inventory:
    """One record and the digests of its parts, each computed when it is first needed.

    opened  fields that are noted part by part instead of as a whole: records, and mappings whose values are mappings
    """

    def __init__(self, record: object, *, opened: tuple[str, ...] = ()) -> None:
        self.record = record
        self.opened = opened
        self._answers: dict[tuple[str, tuple[Any, ...]], tuple[Any, set[Look]]] = {}
        self._digests: dict[Look, str] = {}
        self._records: Known = {}
        self._keys: dict[str, dict[str, Any]] = {}

    def digest(self, look: Look) -> str:
        """SHA-256 of what a look sees in this record; "" where there is nothing."""
        digest = self._digests.get(look)
        if digest is None:
            digest = self._digests[look] = self._seen(look)
        return digest

    def complete(self, record: object, *, there: str) -> None:
        """Go on with the whole *record*, of which so far only the part at the path *there* could be looked at."""
        self.record = record
        self._digests = {look: digest for look, digest in self._digests.items() if look[0].startswith(f"{there}.")}
        self._keys = {path: keys for path, keys in self._keys.items() if path.startswith(f"{there}.")}

    def know(self, record: object, digest: str) -> None:
        """Take a record's digest as known, `digest_of` it."""
        self._records[id(record)] = record, digest

    def answer(self, path: str, method: Callable[..., Any], arguments: tuple[Any, ...], looks: set[Look]) -> Any:
        """The result of a method marked `asked_once`. Adds to *looks* what it looked at, even if it was cached.

        path  of the record whose method it is
        """
        key = f"{path}.{method.__name__}", arguments
        if key not in self._answers:
            inner: set[Look] = set()
            try:
                self._answers[key] = method(Observed(self, inner, path=path), *arguments), inner
            finally:
                looks |= inner
        answer, inner = self._answers[key]
        looks |= inner
        return answer

    def _seen(self, look: Look) -> str:
        path, key = look
        value = self._value(path)
        if key == WHOLE:
            return digest_of(value, known=self._records)
        if key == KEYS:
            return "" if value is None else digest_of(list(value), known=self._records)
        keys = self._keys_by_text(path, value)
        return digest_of(value[keys[key]], known=self._records) if key in keys else ""

    def _value(self, path: str) -> Any:
        """What lies at a path; None where there is nothing."""
        if path.endswith("]"):
            outer, _, key = path[:-1].partition("[")
            mapping = self._value(outer)
            keys = self._keys_by_text(outer, mapping)
            return mapping[keys[key]] if key in keys else None
        value: Any = self.record
        for name in path.split("."):
            value = getattr(value, name, None)
        return value

    def _keys_by_text(self, path: str, mapping: Mapping[Any, Any] | None) -> dict[str, Any]:
        if path not in self._keys:
            self._keys[path] = {text_of(key): key for key in mapping or ()}
        return self._keys[path]


class Observed:
    """Stands in for the record of an inventory, or for one inside it, and adds what is read of it to *looks*."""

    def __init__(self, inventory: Inventory, looks: set[Look], *, path: str = "") -> None:
        self._inventory = inventory
        self._looks = looks
        self._path = path
        record = inventory.record
        for name in filter(None, path.split(".")):
            record = getattr(record, name)
        self._record = record

    def __getattr__(self, name: str) -> Any:
        """Called once per part: afterwards the part is an attribute."""
        method: Any = getattr(type(self._record), name, None)
        if hasattr(method, _ASKED_ONCE):
            plain = getattr(method, _ASKED_ONCE)
            return lambda *arguments: self._inventory.answer(self._path, plain, arguments, self._looks)
        if callable(method):
            return method.__get__(self)
        value = getattr(self._record, name)
        path = f"{self._path}.{name}".lstrip(".")
        opened = path in self._inventory.opened
        if isinstance(value, Mapping):
            value = _ObservedMapping(value, self._looks, path, opened=opened)
        elif opened:
            value = Observed(self._inventory, self._looks, path=path)
        else:
            self._looks.add((path, WHOLE))
        self.__dict__[name] = value
        return value


class _ObservedMapping(Mapping[Any, Any]):
    """A mapping that notes which of its keys were read.

    opened  its values are mappings, too, and are noted key by key
    """

    def __init__(self, mapping: Mapping[Any, Any], looks: set[Look], path: str, *, opened: bool = False) -> None:
        self._mapping = mapping
        self._looks = looks
        self._path = path
        self._inner: dict[Any, _ObservedMapping] | None = {} if opened else None
        self._noted: set[Any] = set()

    def _note(self, key: Any) -> None:
        if key not in self._noted:  # its text takes longer than the look itself
            self._noted.add(key)
            self._looks.add((self._path, text_of(key)))

    def __getitem__(self, key: Any) -> Any:
        if self._inner is None or key not in self._mapping:
            self._note(key)
            return self._mapping[key]
        if key not in self._inner:
            path = f"{self._path}[{text_of(key)}]"
            self._looks.add((path, KEYS))  # so that it is noted even if none of its keys is read
            self._inner[key] = _ObservedMapping(self._mapping[key], self._looks, path)
        return self._inner[key]

    def __iter__(self) -> Iterator[Any]:
        self._looks.add((self._path, KEYS))
        return iter(self._mapping)

    def __len__(self) -> int:
        self._looks.add((self._path, KEYS))
        return len(self._mapping)

    def __contains__(self, key: object) -> bool:
        self._note(key)
        return key in self._mapping

    def values(self) -> Any:
        self._looks.add((self._path, WHOLE))
        return self._mapping.values()

    def items(self) -> Any:
        self._looks.add((self._path, WHOLE))
        return self._mapping.items()


def digest_of(value: object, *, known: Known | None = None) -> str:
    """SHA-256 of a value made of records, collections, texts, numbers and dates.

    Equal values have equal digests in every process.

    known    digests of records that were met before
    Raises   TypeError for a kind of value that has no such text
    """
    kind: Any = type(value)
    text = _flat(value) if _is_record(kind) else None
    if text is None:
        text = repr(_plain(value, {} if known is None else known)).encode("utf-8", "surrogatepass")
    return hashlib.sha256(text).hexdigest()


def _flat(value: object) -> bytes | None:
    """The text of a record of nothing but numbers and texts, in a third of the time; None for any other."""
    kind: Any = type(value)
    values = _values(kind)(value)
    try:
        text = orjson.dumps(values, option=_STRICT)
    except TypeError:
        return None
    # What is not a number is null there, too.
    return f"{kind.__name__} ".encode() + text if text.count(b"null") == values.count(None) else None


def text_of(value: object) -> str:
    """The value as a text that is the same in every process and differs for every other value."""
    return repr(_plain(value, {}))


def _plain(value: object, known: Known) -> object:
    """The value in tuples, texts and numbers, whose repr is deterministic; a record in a collection by its digest."""
    kind: Any = type(value)
    if kind in _PLAIN:
        return value
    if kind is tuple or kind is list:
        return [one if type(one) in _PLAIN else _part(one, known) for one in value]  # type: ignore[attr-defined]
    if _is_record(kind):
        return (kind.__name__, *[one if type(one) in _PLAIN else _part(one, known) for one in _values(kind)(value)])
    if isinstance(value, Mapping):
        if (digest := getattr(value, "digest", None)) is not None:  # it knows its own
            return ("digest", digest)
        if _by_number(value):
            return ("rows", [_part(one, known) for one in value.values()])
        return ("mapping", [(_plain(key, {}), _part(one, known)) for key, one in value.items()])
    if isinstance(value, Set):
        return ("set", sorted(repr(_plain(one, {})) for one in value))
    if isinstance(value, date):
        return (kind.__name__, value.isoformat())
    if hasattr(value, "dtype"):  # a numpy array or number, recognised without importing numpy
        return (kind.__name__, str(value.dtype), value.tolist())  # type: ignore[attr-defined]
    raise TypeError(f"{kind.__name__} has no text that would be the same everywhere")


def _part(value: object, known: Known) -> object:
    """A part of a value. Many collections hold the same records, so each record is digested once."""
    kind: Any = type(value)
    if not _is_record(kind):
        return _plain(value, known)
    entry = known.get(id(value))
    if entry is None:
        entry = known[id(value)] = value, digest_of(value, known=known)
    return entry[1]


def _by_number(value: Mapping[Any, Any]) -> bool:
    """Whether a mapping holds the rows of a copy by their number."""
    for key, one in value.items():
        return type(key) is int and is_dataclass(one) and any(field.name in NUMBERS for field in fields(one))
    return False


@cache
def _is_record(kind: type) -> bool:
    """Whether values of this kind are records: asked once a kind, for that takes longer than the rest of a digest."""
    return is_dataclass(kind)


@cache
def _values(kind: type) -> Any:
    """Reads all fields of a dataclass but its row numbers at once, as a tuple."""
    names = [field.name for field in fields(kind) if field.name not in NUMBERS]
    if len(names) > 1:
        return attrgetter(*names)
    return (lambda value: (getattr(value, names[0]),)) if names else (lambda value: ())

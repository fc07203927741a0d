"""What was looked at is noted, no more and no less; equal things have equal digests in every process."""

import math
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

import pytest

from builder.observed import KEYS, WHOLE, Inventory, Observed, asked_once, digest_of, text_of


@dataclass(frozen=True)
class Shelf:
    colour: str
    books: Mapping[str, int]


@dataclass(frozen=True)
class Room:
    shelf: Shelf
    chairs: Mapping[tuple[str, int], str]
    lamps: tuple[str, ...]
    counted: list[str] = field(default_factory=list)

    @property
    def brightest(self) -> str:
        return max(self.lamps)

    def chair(self, name: str) -> str:
        return self.chairs[name, 1]

    @asked_once
    def volumes(self, title: str) -> int:
        self.counted.append(title)
        return self.shelf.books[title] * 2


def room(**changes):
    parts = {"shelf": Shelf("red", {"a": 1, "b": 2}), "chairs": {("oak", 1): "left"}, "lamps": ("dim", "glare")}
    return Room(**(parts | changes))


def look(record, ask):
    looks = set()
    inventory = Inventory(record, opened=("shelf",))
    answer = ask(Observed(inventory, looks))
    return answer, looks


@pytest.mark.parametrize(
    ("ask", "answer", "looks"),
    [
        (lambda r: r.shelf.books["a"], 1, {("shelf.books", "'a'")}),
        (lambda r: r.shelf.books.get("z"), None, {("shelf.books", "'z'")}),
        (lambda r: "z" in r.shelf.books, False, {("shelf.books", "'z'")}),
        (lambda r: r.shelf.books.get("keys"), None, {("shelf.books", "'keys'")}),
        (lambda r: list(r.shelf.books), ["a", "b"], {("shelf.books", KEYS)}),
        (lambda r: len(r.shelf.books), 2, {("shelf.books", KEYS)}),
        (lambda r: sum(r.shelf.books.values()), 3, {("shelf.books", WHOLE)}),
        (lambda r: dict(r.shelf.books.items()), {"a": 1, "b": 2}, {("shelf.books", WHOLE)}),
        (lambda r: r.shelf.colour, "red", {("shelf.colour", WHOLE)}),
        (lambda r: r.lamps, ("dim", "glare"), {("lamps", WHOLE)}),
        (lambda r: r.brightest, "glare", {("brightest", WHOLE)}),
        (lambda r: r.chair("oak"), "left", {("chairs", "['oak', 1]")}),
        (lambda r: 1, 1, set()),
    ],
)
def test_a_look_is_noted_and_answered_as_without(ask, answer, looks):
    assert ask(room()) == answer
    assert look(room(), ask) == (answer, looks)


def test_what_was_missing_is_noted_too():
    looks = set()
    with pytest.raises(KeyError):
        Observed(Inventory(room()), looks).chairs["elm", 2]
    (noted,) = looks
    assert Inventory(room()).digest(noted) == ""
    assert Inventory(room(chairs={("elm", 2): "new"})).digest(noted) != ""


def test_digests_tell_what_changed_and_nothing_else():
    one, other = Inventory(room()), Inventory(room(shelf=Shelf("red", {"a": 1, "b": 3, "c": 4})))
    same, changed = ("shelf.books", "'a'"), ("shelf.books", "'b'")
    assert one.digest(same) == other.digest(same)
    assert one.digest(changed) != other.digest(changed)
    assert one.digest(("shelf.books", KEYS)) != other.digest(("shelf.books", KEYS))
    assert one.digest(("shelf.colour", WHOLE)) == other.digest(("shelf.colour", WHOLE))
    assert other.digest(("gone", "'a'")) == ""


def test_whoever_asks_second_is_noted_for_what_the_first_looked_at():
    record = room()
    inventory = Inventory(record, opened=("shelf",))
    first, second = set(), set()
    assert Observed(inventory, first).volumes("b") == Observed(inventory, second).volumes("b") == 4
    assert record.counted == ["b"]
    assert second == first >= {("shelf.books", "'b'")}
    assert record.volumes("a") == record.volumes("a") == 2
    assert record.counted == ["b", "a"]


def test_equal_values_have_equal_digests_whatever_they_are_made_of():
    assert digest_of([1, 2.5, "a", None, True]) == digest_of((1, 2.5, "a", None, True))
    assert digest_of(frozenset({"a", "b"})) == digest_of({"b", "a"})
    assert digest_of({"a": 1}) != digest_of({"a": 1.5})
    assert digest_of([["a"], "b"]) != digest_of([["a", "b"]])
    assert digest_of(date(2026, 1, 1)) != digest_of(datetime(2026, 1, 1, tzinfo=UTC))
    assert digest_of(Shelf("red", {})) != digest_of(("Shelf", "blue", {}))
    assert len({text_of(key) for key in ("1", 1, "keys", "*", ("1",), ("a", "b"), "['a', 'b']")} | {KEYS, WHOLE}) == 9
    plain = (None, math.nan, math.inf, -math.inf, 0, 0.0, -0.0, False, "", "null", (), {}, (None,), (math.nan,))
    assert len({digest_of(Shelf(value, {})) for value in plain}) == len(plain)
    with pytest.raises(TypeError, match="no text that would be the same everywhere"):
        digest_of(object())


@dataclass(frozen=True)
class Row:
    run_id: int
    value: float


def test_how_a_copy_numbers_its_rows_says_nothing():
    assert digest_of({1: Row(1, 5.0), 2: Row(2, 6.0)}) == digest_of({3: Row(3, 5.0), 7: Row(7, 6.0)})
    assert digest_of({1: Row(1, 5.0), 2: Row(2, 6.0)}) != digest_of({1: Row(1, 6.0), 2: Row(2, 5.0)})
    assert digest_of({1: "a"}) != digest_of({2: "a"})


def test_digests_are_the_same_in_another_process():
    script = "from builder.observed import digest_of; print(digest_of(({'x', 'y', 'z'}, {'k': 1.1}, ['ü'])))"
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", script], capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": seed}
        )
        assert done.stdout.strip() == digest_of(({"x", "y", "z"}, {"k": 1.1}, ["ü"]))


def test_what_could_not_be_seen_yet_is_looked_at_again_once_it_is_there():
    whole, inventory = room(), Inventory(None, opened=("shelf",))
    inventory.record = Shelved(whole.shelf)
    early = inventory.digest(("shelf.books", "'a'"))
    assert inventory.digest(("lamps", WHOLE)) == digest_of(None)
    inventory.complete(whole, there="shelf")
    assert inventory.digest(("shelf.books", "'a'")) == early == digest_of(1)
    assert inventory.digest(("lamps", WHOLE)) == digest_of(whole.lamps)


@dataclass(frozen=True)
class Shelved:
    shelf: Shelf

"""Roles and workloads of batch.toml: a kind of work defined once, its marks, and the seats that play it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING

from catalog.checking.keys import Key, Section
from catalog.checking.known import Row, came_again
from catalog.checking.names import unknown
from catalog.checking.thing_keys import KINDS, RECIPES, ROLE, SUPERSEDES, WORKLOAD, toml_key
from catalog.checking.troubles import Trouble
from catalog.marks import MARKS, InWorkload, Marks, in_workload, laid_over, requests_planned, requests_to_show

if TYPE_CHECKING:
    from catalog.checking.things import Things

_NEW_VERSION = "A changed workload is a new version: raise its version number."


def read_role(things: Things, section: Section) -> None:
    """[[role]]: a new role; or marks that a known one has already, or that take the place of those it has."""
    typed = section.values.get("id")
    known = things.stored("role", role_id=typed) if isinstance(typed, str) else None
    row = section.read({**ROLE, **_recipe_keys(section, known), **SUPERSEDES}, known=known is not None)
    supersedes = bool(row.pop("supersedes", 0))
    if "role_id" not in row or (known is None and "kind" not in row):
        return
    recipe = _recipe_of(row, section, known)
    said = {name: row[name] for name in MARKS if name in row}
    if known is None:
        things.judge("role", {"role_id": row["role_id"]}, section)
        stored = {"role_id": row["role_id"], "kind": row["kind"], "recipe": json.dumps(recipe, sort_keys=True)}
        _define(things, section, stored, said, things.origin(section))
        return
    if _other_recipe(section, row, recipe, known):
        return
    brought = things.brings("role", known)
    current = declared(things, row["role_id"])
    new = laid_over(current, said, things.batch_id)
    if new.values() != current.values() and (brought or not supersedes):
        _refuse_marks(section, current, said, brought=brought)
        return
    if not brought:
        _declare(things, section, row["role_id"], said, new)
        things.again.append(came_again("role", known, things.origin(section)))


def declared(things: Things, role_id: str) -> Marks:
    """The marks that the catalogue and the batch so far declare for a role, whatever newer versions say."""
    marks = Marks()
    for _, batch_id, said in things.known.declarations(role_id):
        marks = laid_over(marks, json.loads(said), batch_id)
    return marks


def _recipe_keys(section: Section, known: Row | None) -> Mapping[str, Key]:
    kind = KINDS(section.values.get("kind", known["kind"] if known else None))
    return {} if isinstance(kind, Trouble) else RECIPES[kind]


def _recipe_of(row: Row, section: Section, known: Row | None) -> Row:
    """The recipe, which is taken out of *row*."""
    names = [key.column for key in _recipe_keys(section, known).values()]
    return {name: row.pop(name) for name in names if name in row}


def _other_recipe(section: Section, row: Row, recipe: Row, known: Row) -> bool:
    """Whether a known role is given another kind or recipe, which is refused. What is left out is no other."""
    was = json.loads(known["recipe"]) | {"kind": known["kind"]}
    stated = recipe | ({"kind": row["kind"]} if "kind" in row else {})
    for name, value in stated.items():
        if was.get(name) != value:
            has = repr(was[name]) if name in was else "not stated"
            other = Trouble(
                f"{section.name}: {name} is {has} in the catalogue, and a recipe never changes.",
                "Another recipe is another role: give it an id of its own.",
                "conflict",
            )
            section.refuse(name, other, value)
            return True
    return False


def _refuse_marks(section: Section, current: Marks, said: Row, *, brought: bool) -> None:
    name = next(name for name, value in said.items() if getattr(current, name) != value)
    was = getattr(current, name)
    conflict = Trouble(
        f"{section.name}: {name} is {'not stated' if was is None else f'{was:g}'} "
        f"{'further up in this file' if brought else 'in the catalogue'}.",
        "Name it once."
        if brought
        else "Marks hold for every log of a role, old ones too: write supersedes = true beside it if that is meant.",
        "conflict",
    )
    section.refuse(name, conflict, said[name])


def _define(things: Things, section: Section, row: Row, said: Row, origin: Row) -> None:
    """Keep a new role; what is in force of its marks is settled once everything is read."""
    things.store("role", {**row, **dict.fromkeys(MARKS), "marks_batch_id": None, **origin})
    _declare(things, section, row["role_id"], said, laid_over(Marks(), said, things.batch_id))


def _declare(things: Things, section: Section, role_id: str, said: Row, new: Marks) -> None:
    _check_marks(section, said, new)
    if said:
        row = {"role_id": role_id, "batch_id": things.batch_id, "said": json.dumps(said, sort_keys=True)}
        things.store("role_declaration", row)


def _check_marks(section: Section, said: Row, new: Marks) -> None:
    """Good is a time and a share, and never slower than enough."""
    for name, other in (("good_ms", "good_share"), ("good_share", "good_ms")):
        if name in said and getattr(new, other) is None:
            half = Trouble(f"{section.name} has {name} and no {other}.", f"Add {other} = … there.", "missing")
            section.refuse(name, half, said[name])
    if None not in (new.good_ms, new.target_ms) and new.good_ms > new.target_ms:  # type: ignore[operator]
        slower = Trouble(
            f"{section.name}: good_ms is {new.good_ms:g} and target_ms is {new.target_ms:g}, so good would be slower "
            "than enough.",
            "Swap them, or correct one.",
            "out-of-range",
        )
        section.refuse("good_ms" if "good_ms" in said else "target_ms", slower, said.get("good_ms", ""))


def read_workload(things: Things, section: Section) -> None:
    """[[workload]] with its seats, or with roles of its own, each of which is a seat."""
    row = section.read(WORKLOAD, others=frozenset({"role", "seats"}))
    roles = section.children("role")
    seats = _seats(things, section)
    if "workload_id" not in row or "version" not in row:
        return
    known = things.add("workload", ("workload_id", "version"), row, section)
    owner = {"workload_id": row["workload_id"], "version": row["version"]}
    if not known and not roles and "seats" not in section.values:
        none = "Add seats, or [[workload.role]]."
        section.refuse("", Trouble(f"{section.name} has no role.", none, "missing"))
    if seats is not None:
        _seat(things, section, owner, seats, known=known)
    brought = [name for role in roles if (name := _own_role(things, role, owner, known=known)) is not None]
    # In the order of their names, for what other order they stood in is known of no older catalogue.
    for place, name in enumerate(sorted(brought), start=len(seats or ()) + 1):
        things.store("workload_seat", {**owner, "seat": place, "role_id": name})
    if known:
        _own_roles_again(things, section, owner)
    workload = things.stored("workload", **owner)
    if workload is not None and "duration_s" in workload and things.brings("workload", workload):
        _warn_too_few(things, section, owner, workload["duration_s"])


def _seats(things: Things, section: Section) -> list[list[str]] | None:
    """The roles of each seat; None where there are none, or none that can be read."""
    value = section.values.get("seats")
    if value is None:
        return None
    if not (isinstance(value, list) and value and all(isinstance(seat, list) and seat for seat in value)) or not all(
        isinstance(role, str) for seat in value for role in seat
    ):
        shape = Trouble(
            f"{section.name}: seats are lists of roles.",
            'Write [["film", "pages"], ["call"]], a list a machine.',
            "wrong-shape",
        )
        section.refuse("seats", shape, str(value))
        return None
    known = {row["role_id"] for row in things.known.of("role") if in_workload(row["role_id"]) is None}
    sound = True
    for number, seat in enumerate(value, start=1):
        for role in dict.fromkeys(seat):
            if role not in known:
                section.refuse("seats", unknown("role", role, known, register="Define it as [[role]]."), role)
                sound = False
            elif seat.count(role) > 1:
                twice = Trouble(
                    f"{section.name}: seat {number} plays {role} twice.",
                    "One machine plays a role once at a time; a second machine is a seat of its own.",
                    "role-twice",
                )
                section.refuse("seats", twice, role)
                sound = False
    return value if sound else None


def _seat(things: Things, section: Section, owner: Row, seats: list[list[str]], *, known: bool) -> None:
    if known:
        there = things.known.seats_of(owner["workload_id"], owner["version"])
        if [set(seat) for seat in there] != [set(seat) for seat in seats]:
            changed = Trouble(f"{section.name}: seats differ from the catalogue.", _NEW_VERSION, "conflict")
            section.refuse("seats", changed, str(seats))
        return
    for role in dict.fromkeys(role for seat in seats for role in seat):
        things.store("workload_role", {**owner, "role_id": role, "definition": role})
    for number, seat in enumerate(seats, start=1):
        for role in seat:
            things.store("workload_seat", {**owner, "seat": number, "role_id": role})


def _own_role(things: Things, section: Section, owner: Row, *, known: bool) -> str | None:
    """[[workload.role]], a role that the workload defines for itself: its name, if it is new."""
    row = section.read({**ROLE, **_recipe_keys(section, None)})
    if "role_id" not in row or "kind" not in row:
        return None
    recipe = _recipe_of(row, section, None)
    said = {name: row[name] for name in MARKS if name in row}
    role_id = str(InWorkload(owner["workload_id"], owner["version"], row["role_id"]))
    there = things.find("workload_role", ("workload_id", "version", "role_id"), owner | row)
    if known and there is None:
        new = Trouble(
            f"The workload {owner['workload_id']} version {owner['version']} has no role {row['role_id']!r}.",
            _NEW_VERSION,
            "conflict",
        )
        section.refuse("id", new, row["role_id"])
        return None
    if there is not None:
        _refuse_change(things, section, role_id, {"kind": row["kind"], "recipe": recipe} | said, there)
        return None
    things.judge("workload_role", owner | {"role_id": row["role_id"]}, section)
    workload = things.stored("workload", **owner)
    assert workload is not None
    origin = {name: workload[name] for name in ("batch_id", "source_file", "source_row")}
    stored = {"role_id": role_id, "kind": row["kind"], "recipe": json.dumps(recipe, sort_keys=True)}
    _define(things, section, stored, said, origin)
    things.store("workload_role", {**owner, "role_id": row["role_id"], "definition": role_id})
    return str(row["role_id"])


def _refuse_change(things: Things, section: Section, role_id: str, stated: Row, there: Row) -> None:
    definition = things.stored("role", role_id=there["definition"])
    assert definition is not None
    current = declared(things, role_id)
    was = {"kind": definition["kind"], "recipe": json.loads(definition["recipe"])} | current.values()
    for column, value in stated.items():
        if there["definition"] != role_id or was[column] != value:
            changed = Trouble(
                f"{section.name}: {toml_key(column)} differs from the catalogue.", _NEW_VERSION, "conflict"
            )
            section.refuse("", changed, value)
            return


def _own_roles_again(things: Things, section: Section, owner: Row) -> None:
    """A batch that states a workload of the catalogue states its roles, with the marks that they had."""
    for row in things.known.of("workload_role"):
        role = things.stored("role", role_id=row["definition"])
        assert role is not None
        if any(row[name] != value for name, value in owner.items()) or in_workload(role["role_id"]) is None:
            continue
        if things.brings("role", role):
            continue
        said = {name: mark for name, mark in declared(things, role["role_id"]).values().items() if mark is not None}
        if said:
            stated = {"role_id": role["role_id"], "batch_id": things.batch_id, "said": json.dumps(said, sort_keys=True)}
            things.store("role_declaration", stated)
        things.again.append(came_again("role", role, things.origin(section)))


def _warn_too_few(things: Things, section: Section, owner: Row, duration_s: float) -> None:
    """A recipe that makes too few requests to show its own mark, even if all of them come in time."""
    for row in things.known.of("workload_role"):
        if any(row[name] != value for name, value in owner.items()):
            continue
        role = things.stored("role", role_id=row["definition"])
        assert role is not None
        planned = requests_planned(role["kind"], json.loads(role["recipe"]), duration_s)
        marks = declared(things, row["definition"])
        shares = [share for share in (marks.target_share, marks.good_share) if share is not None]
        needed = max((requests_to_show(share) or 0 for share in shares), default=0)
        if planned is None or planned >= needed:
            continue
        share = max(shares, key=lambda share: requests_to_show(share) or 0)
        few = Trouble(
            f"{section.name}: {row['role_id']} makes about {planned} requests in {duration_s:g} s; {needed} are needed "
            f"to show {100 * share:g} %.",
            "Its verdict holds for the run alone. Let it last longer, ask more often, or ask for a smaller share.",
            "mark-not-shown",
        )
        things.warnings.append(few.at(*section.place, "duration_s", str(duration_s)))

"""Names: what a typed one means, and the nearest known ones for one that means nothing.

A name is taken when it is an id, or, apart from case and spaces, exactly one thing's name or alias.
Everything else is a question; nothing is ever created from a name in a table.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rapidfuzz import fuzz, process

from catalog.checking.troubles import Trouble

MOST = 3
_NEAR_ENOUGH = 55  # of 100; below it a proposal has nothing to do with what was typed


def fold(text: str) -> str:
    """Small letters, single spaces."""
    return " ".join(text.casefold().split())


def nearest(typed: str, known: Iterable[str]) -> list[str]:
    """Up to three known names, the nearest first; names at the same distance in alphabetical order."""
    matches = process.extract(
        typed, sorted(set(known)), scorer=fuzz.WRatio, processor=fold, limit=MOST, score_cutoff=_NEAR_ENOUGH
    )
    return [name for name, _, _ in matches]


def unknown(kind: str, typed: str, known: Iterable[str], *, register: str = "") -> Trouble:
    """A name that is not registered, with proposals of what it may mean.

    register  how to add it, as a sentence
    """
    near = nearest(typed, known)
    meant = f" Did you mean {_listed(near)}?" if near else ""
    return Trouble(
        f"The {kind} {typed!r} is not known.{meant}",
        register or "Correct the cell, or answer it once in answers.toml.",
        f"unknown-{kind.replace(' ', '-')}",
        proposals=tuple(near),
    )


def lost_zero(typed: str, known: Iterable[str]) -> str | None:
    """The known version text that *typed* differs from only by zeros at its end, as spreadsheets drop them."""
    if "." not in typed and not typed.isdigit():
        return None
    for version in sorted(known):
        if version != typed and "." in version and _bare(version) == _bare(typed):
            return version
    return None


def unknown_version(kind: str, typed: str, of: str, known: Iterable[str]) -> Trouble:
    """A firmware or driver text that is not registered with the thing called *of*."""
    versions = list(known)
    if (meant := lost_zero(typed, versions)) is not None:
        return Trouble(
            f"The {kind} {typed!r} of {of} is not known; the nearest is {meant}.",
            "Spreadsheets drop the last zero: format the column as text and type it again, or answer it once "
            "in answers.toml.",
            "lost-zero",
            proposals=(meant,),
        )
    near = nearest(typed, versions)
    registered = f" Known are {_listed(near or sorted(versions)[:MOST])}." if versions else " None is registered."
    return Trouble(
        f"The {kind} {typed!r} of {of} is not known.{registered}",
        "Register it in batch.toml, correct the cell, or answer it once in answers.toml.",
        f"unknown-{kind}",
        proposals=tuple(near),
    )


class Register:
    """The names of one kind of thing: every spelling that means exactly one of them."""

    def __init__(self, names: Mapping[str, Iterable[str]]) -> None:
        """names  id -> further names of that thing"""
        self._ids = frozenset(names)
        self._spellings: dict[str, set[str]] = {}
        self._shown: list[str] = []
        for key, others in names.items():
            for name in {key, *others} - {"", " "}:
                self._spellings.setdefault(fold(name), set()).add(key)
                self._shown.append(name)

    def find(self, typed: str) -> str | None:
        """The id that *typed* means, None when it means none or several."""
        if typed in self._ids:
            return typed
        matches = self._spellings.get(fold(typed), set())
        return next(iter(matches)) if len(matches) == 1 else None

    def shared_by(self, typed: str) -> list[str]:
        """The ids that share the spelling *typed*."""
        return sorted(self._spellings.get(fold(typed), ()))

    def spellings(self) -> list[str]:
        """Every name, for proposals."""
        return self._shown


def _bare(version: str) -> str:
    whole, _, rest = version.rpartition(".")
    return f"{whole}.{rest.rstrip('0')}".rstrip(".") if whole else version


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"

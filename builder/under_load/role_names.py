"""What roles are called in sentences, and their counts."""

from __future__ import annotations

from builder import wording
from builder.under_load.roles import RoleResult, too_few
from catalog.records import Role


def role_name(role: Role) -> str:
    """A role in words."""
    return role_words(role.role_id)


def role_words(role_id: str) -> str:
    """A role's id without hyphens and underscores."""
    return role_id.replace("-", " ").replace("_", " ")


def count_words(result: RoleResult) -> str:
    """How many requests of a role with a mark were in time, and whether so many show anything.

    "2730 of 3000 in time"; "12 of 13 in time, too few to tell from 95 %".
    """
    if result.noted is not None and result.noted.on_time_share is not None:
        return f"{wording.percent(result.noted.on_time_share)} in time, as noted then"
    assert result.on_time is not None
    assert result.planned is not None
    assert result.role.target_share is not None
    if result.certain or result.verdict == "did-not-finish":  # of a run that broke off nothing is inferred
        return f"{result.on_time} of {result.planned} in time"
    return too_few(result.on_time, result.planned, result.role.target_share, result.effective).replace(";", ",")


def stalled_text(stalls: int, stalled_s: float) -> str:
    """How often and how long [s] a stream stood still: "no stall", "2 stalls, 7.5 s in all"."""
    return f"{wording.count(stalls, 'stall')}, {wording.number(stalled_s, 1)} s in all" if stalls else "no stall"

"""Whether a device coped with a workload, as far as its requests show it (method, section 6)."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Literal

from builder.under_load.roles import RoleResult

Coping = Literal["coped", "too-close", "did-not-cope"]
FROM_WORST: tuple[Coping, ...] = ("did-not-cope", "too-close", "coped")


def worst_coping(several: Iterable[Coping]) -> Coping:
    """What stands of a device that was tested several times: the worst of them."""
    return min(several, key=FROM_WORST.index)


def coping(collapsed: bool, unmet: Collection[RoleResult], unsure: Collection[RoleResult]) -> Coping:
    """What its runs together show about one device.

    A role that was met or missed by too few requests to tell from its mark leaves it open, whichever side of the mark the
    count fell on; one without a late request does not.

    collapsed  whether a run broke off
    unmet      of each role that was not met in a run that run, one that shows it where there is one
    unsure     of each role that was met and that no run shows to be met, the run with the lowest share
    """
    if collapsed or any(run.certain for run in unmet):
        return "did-not-cope"
    return "too-close" if open_roles(unmet, unsure) else "coped"


def open_roles(unmet: Collection[RoleResult], unsure: Collection[RoleResult]) -> list[RoleResult]:
    """The roles of which too few requests tell whether they are met, with late requests in the run. As in `coping`."""
    return [run for run in (*unmet, *unsure) if not run.certain and not run.none_late]

"""Publishing: build, check, say what changes and why, note it in the catalogue, swap in.

The catalogue is noted before the swap: a run killed in between leaves the old site, and batches that can no longer be
undone although nobody has seen them yet. The other way round a batch that readers have seen could vanish.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlite_utils import Database

from builder import shipped
from builder.addresses import STILLS
from builder.pages.material import Material
from builder.publishing.building import compose_site
from builder.publishing.changes import Changes, changes_from
from builder.publishing.figures import Record, read_record, record_of
from builder.publishing.history import with_history
from builder.publishing.kept_pages import store_of
from builder.publishing.leaks import leaks
from builder.publishing.parts import faults
from builder.publishing.refusing import refuse
from builder.publishing.reports import BuildReport, Progress
from builder.publishing.secrets_sought import sought
from builder.publishing.site_folder import MARKER, staged
from builder.publishing.swapping import earlier_of, held, roll_back, settle
from catalog import queries
from catalog.connection import open_catalog
from catalog.entering import transaction
from catalog.errors import BuildRefused, InputRefused, WriteRefused
from catalog.storing import mark_published, state_of
from catalog.visibility import visible_batches
from catalog.whole_files import require_apart


@dataclass(frozen=True, slots=True)
class PublishReport:
    """What was published.

    figures  how many public figures it prints
    changes  from the version before; None for a first publication
    earlier  where the version before lies; None for a first publication
    """

    built: BuildReport
    figures: int
    changes: Changes | None
    earlier: Path | None


def publish_site(
    catalog: Path,
    out: Path,
    *,
    as_of: datetime,
    now: datetime,
    jobs: int,
    cache: Path | None,
    progress: Progress,
    templates: Path | None = None,
    stills: bool = False,
) -> PublishReport:
    """Publish *catalog* as of the instant *as_of* into the folder *out*, in one step and only if all is well.

    now     as_of is not after it: what is not to be seen yet is never published
    stills  also the pictures for video; a published site that has them gets them anew without being asked, since what
            a video was cut from must neither vanish nor go stale at a swap
    others  as build_site has them
    Raises  InputRefused: nobody is named as publisher, or the instant is to come; BuildRefused: something is wrong
            with the new site, or *out* is no site's folder; WriteRefused, CatalogUnusable. Then *out* is as it was.
    """
    if as_of > now:
        raise InputRefused("The instant is still to come, and what is hidden until then may not be published now.")
    require_apart(out, catalog=catalog)
    require_apart(earlier_of(out.resolve()), catalog=catalog)
    with closing(open_catalog(catalog, readonly=True)) as db:
        if queries.site(db) is None:
            raise InputRefused(
                "Nobody is named as the publisher yet. Write a [site] with at least a title into the batch.toml of a "
                "batch, enter it, and publish again."
            )
        before = state_of(db)
        words = queries.hidden_words(db, _utc(as_of))
    looks = templates or shipped.templates_folder()
    secret = sought(words, paths=[catalog.resolve(), out.resolve()], usual=usual_words(looks))
    figures = 0
    changed: Changes | None = None

    def recorded(copy: Database, material: Material) -> Record:
        """The record of the new site, held against the published one: no figure changes without a cause."""
        nonlocal figures, changed
        progress("Comparing with what is published …")
        record, old = record_of(material), read_record(out)
        changed = None if old is None else changes_from(catalog, out, old, copy, material, record)
        refuse("Public figures change and nothing in the catalogue says why", changed.without_cause if changed else ())
        figures = len(record.figures)
        return with_history(record, old, changed, material, secret=secret.holds)

    with staged(out, keep_earlier=True) as stage:
        report = compose_site(
            catalog, stage, as_of=as_of, jobs=jobs, cache=cache, progress=progress, templates=templates,
            stills=stills or (out / STILLS).is_dir(), recorded=recorded,
            store=store_of(cache, out),
            formerly=[page.relative_to(out).as_posix() for page in sorted(out.rglob("*.html"))],
        )  # fmt: skip
        progress("Checking parts, looking for leaks …")
        refuse("Parts of the new site are not as they should be", faults(stage))
        refuse("The new site holds what must not be public", leaks(stage, secret))
        batches = visible_batches(catalog, as_of=as_of)
        _note(catalog, batches, before, at=now)
        progress("Putting it in place …")
    earlier = earlier_of(out.resolve())
    return PublishReport(report, figures, changed, earlier if changed is not None and earlier.exists() else None)


def roll_back_site(out: Path) -> Path:
    """Let the earlier version of the site at *out* take its place again; the newer one is kept as the earlier.

    Returns where the newer one lies now.
    Raises  BuildRefused: there is no earlier version, or *out* is no published site.
    """
    out = out.resolve()
    earlier = earlier_of(out)
    settle(out)
    for folder in (out, earlier):
        if not (folder / MARKER).is_file():
            what = "no published site" if folder == out else f"no earlier version of the site beside it, at {earlier}"
            raise BuildRefused(f"{out}: there is {what}. Nothing was changed.")
    with held(out):
        roll_back(out)
    return earlier


def _note(catalog: Path, batches: Sequence[str], before: tuple[int, ...], *, at: datetime) -> None:
    with closing(open_catalog(catalog, readonly=False)) as db, transaction(db):
        if state_of(db) != before:
            raise WriteRefused(
                "The catalogue was changed while the site was built, so the site was not put in place. Publish again."
            )
        mark_published(db, batches, at=_utc(at))


def usual_words(looks: Path) -> str:
    """The words that every site has, whatever its catalogue holds."""
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(looks.rglob("*.html")))


def _utc(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

"""Publishing: build, check, say what changes and why, note it in the catalogue, swap in.

The catalogue is noted before the swap: a run killed in between leaves the old site, and batches that can no longer be
undone although nobody has seen them yet. The other way round a batch that readers have seen could vanish.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlite_utils import Database

from builder import shipped
from builder.addresses import FIGURES, MOVED, STILLS
from builder.pages.contents import Contents
from builder.pages.pointer import leads_on
from builder.publishing.changing.changes import Changes, changes_from
from builder.publishing.changing.figures import Record, read_record, record_of
from builder.publishing.changing.history import with_history
from builder.publishing.changing.reappearing import reappearing
from builder.publishing.changing.site_folder import MARKER, staged
from builder.publishing.changing.swapping import earlier_of, held, roll_back, settle
from builder.publishing.checking.leaks import leaks
from builder.publishing.checking.own_words import own_words
from builder.publishing.checking.parts import faults
from builder.publishing.checking.reports import BuildReport, Progress, refuse
from builder.publishing.checking.secrets_sought import Sought, sought
from builder.publishing.keeping.keeper import store_of
from builder.publishing.making.building import compose_site
from catalog import queries
from catalog.connection import open_catalog
from catalog.entering import transaction
from catalog.errors import BuildRefused, CatalogUnusable, InputRefused, WriteRefused
from catalog.records import Hidden
from catalog.storing import mark_published, state_of
from catalog.visibility import public_copy, row_fates, visible_batches, waiting_articles
from catalog.whole_files import require_apart


@dataclass(frozen=True, slots=True)
class PublishReport:
    """What was published.

    figures  how many public figures it prints
    changes  from the version before; None for a first publication
    earlier  where the version before lies; None for a first publication, and where none is kept
    gone     what the version before shows and is hidden or withdrawn now, which is why it is not kept
    waiting  reviews whose own day has come and that are hidden with what they are about
    """

    built: BuildReport
    figures: int
    changes: Changes | None
    earlier: Path | None
    gone: Sequence[str] = ()
    waiting: Sequence[Hidden] = ()


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

    now     as_of is not after it: what may not be seen yet is never published
    stills  also the pictures for video; a published site that has them gets new ones in any case, because what a video
            was cut from must neither vanish nor go stale at a swap
    others  as build_site has them
    Raises  InputRefused: nobody is named as publisher, or the instant is to come; BuildRefused: something is wrong
            with the new site, or *out* is not a site's folder; WriteRefused, CatalogUnusable. Then *out* is as it was.
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
    templates = templates or shipped.templates_folder()
    secret = _secrets(catalog, as_of, templates, paths=[catalog.resolve(), out.resolve()])
    waiting = waiting_articles(catalog, as_of=as_of)
    figures = 0
    gone: list[str] = []
    changed: Changes | None = None

    def recorded(copy: Database, contents: Contents) -> Record:
        """The record of the new site, compared with the published one: no figure changes without a cause."""
        nonlocal figures, changed, gone
        progress("Comparing with what is published …")
        record, old = record_of(contents), read_record(out)
        fates = row_fates(catalog, as_of=as_of)
        changed = None if old is None else changes_from(catalog, out, old, copy, contents, record, fates=fates)
        refuse("Public figures change and nothing in the catalogue says why", changed.without_cause if changed else ())
        gone = reappearing(out, copy, fates, secret) if (out / MARKER).is_file() else []
        figures = len(record.figures)
        return with_history(record, old, changed, contents, secret=secret.holds)

    def formerly() -> Iterator[str]:
        """Pages of the published site. One that goes with what is hidden leaves no trace: only others lead on."""
        for page in sorted([*out.rglob("*.html"), *(out / FIGURES).glob("*.svg")]):
            if changed is None or not changed.hides or leads_on(page.read_text(encoding="utf-8")):
                yield page.relative_to(out).as_posix()

    with staged(out, keep_earlier=True, drop_earlier=lambda: bool(gone)) as stage:
        report = compose_site(
            catalog,
            stage,
            as_of=as_of,
            jobs=jobs,
            progress=progress,
            templates=templates,
            stills=stills or (out / STILLS).is_dir(),
            recorded=recorded,
            store=store_of(cache, out),
            formerly=formerly(),
            moved=[page.relative_to(out).as_posix() for kind in MOVED for page in sorted(out.glob(kind))],
            before=out,
        )
        progress("Checking parts, looking for leaks …")
        refuse("Parts of the new site are not as they should be", faults(stage))
        refuse("The new site holds what must not be public", leaks(stage, secret))
        batches = visible_batches(catalog, as_of=as_of)
        _note(catalog, batches, before, at=now)
        progress("Putting it in place …")
    earlier = earlier_of(out.resolve())
    return PublishReport(
        report,
        figures,
        changed,
        earlier if changed is not None and earlier.exists() else None,
        gone,
        waiting,
    )


def roll_back_site(out: Path, *, catalog: Path, now: datetime) -> Path:
    """Let the earlier version of the site at *out* take its place again; the newer one is kept as the earlier.

    Returns where the newer one lies now.
    Raises  BuildRefused: there is no earlier version, or *out* is not a published site, or the earlier version shows what
            *catalog* hides at the instant *now* or has withdrawn; CatalogUnusable: it cannot be asked.
    """
    if not catalog.is_file():
        raise CatalogUnusable(
            f"There is no catalogue at {catalog}. It has to be asked what is hidden or withdrawn now; name it with "
            "--catalog."
        )
    out = out.resolve()
    earlier = earlier_of(out)
    settle(out)
    for folder in (out, earlier):
        if not (folder / MARKER).is_file():
            what = "no published site" if folder == out else f"no earlier version of the site beside it, at {earlier}"
            raise BuildRefused(f"{out}: there is {what}. Nothing was changed.")
    with held(out):
        secret = _secrets(catalog, now, shipped.templates_folder())
        with closing(public_copy(catalog, as_of=now)) as copy:
            shown = reappearing(earlier, copy, row_fates(catalog, as_of=now), secret)
        refuse("The earlier version shows again what is hidden or withdrawn now", shown)
        roll_back(out)
    return earlier


def _secrets(catalog: Path, as_of: datetime, templates: Path, *, paths: Sequence[Path] = ()) -> Sought:
    with closing(open_catalog(catalog, readonly=True)) as db:
        return sought(queries.hidden_words(db, _utc(as_of)), paths=paths, usual=own_words(templates))


def _note(catalog: Path, batches: Sequence[str], before: tuple[int, ...], *, at: datetime) -> None:
    with closing(open_catalog(catalog, readonly=False)) as db, transaction(db):
        if state_of(db) != before:
            raise WriteRefused(
                "The catalogue was changed while the site was built, so the site was not put in place. Publish again."
            )
        mark_published(db, batches, at=_utc(at))


def _utc(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

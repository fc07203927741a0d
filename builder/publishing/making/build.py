"""Building a site: all of it or nothing, beginning with what takes no time to load.

No clock and no randomness: the same catalogue and instant give the same bytes on every machine.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

from builder import shipped
from builder.publishing.changing.site_folder import staged
from builder.publishing.checking.reports import BuildReport, Progress
from builder.publishing.files.database import database_in
from builder.publishing.keeping.keeper import store_of
from builder.publishing.keeping.unchanged import files_of, inputs_of, keep_report
from catalog.visibility import public_copy
from catalog.whole_files import require_apart


def build_site(
    catalog: Path,
    *,
    out: Path,
    as_of: datetime,
    jobs: int,
    cache: Path | None,
    progress: Progress,
    templates: Path | None = None,
    stills: bool = False,
) -> BuildReport:
    """Build the public site of *catalog* into the folder *out*.

    as_of      the build instant: what may be seen then is in the site, and nothing else
    jobs       worker processes
    cache      folder of what builds keep for the next; None makes all anew
    progress   called with a few words about what is being done
    templates  other page templates than the shipped ones
    stills     also the pictures for video, of every figure that stands in an article
    Raises     BuildRefused, CatalogUnusable; then *out* is as it was before.
    """
    require_apart(out, catalog=catalog)
    templates = templates or shipped.templates_folder()
    store = store_of(cache, out)
    written = _last_written(catalog)
    with staged(out) as stage:
        with ThreadPoolExecutor(2) as beside:
            copying = beside.submit(_copy, catalog, as_of, stage)
            if store is not None:
                taking = beside.submit(inputs_of, catalog, as_of=as_of, stills=stills)
            # Loaded meanwhile, for SQLite copies, and files are hashed, without Python.
            from builder.publishing.making.building import compose_site
        copying.result()
        known = _last_written(catalog) == written  # what is written meanwhile may be in the copy and not in the hash
        report = compose_site(
            catalog,
            stage,
            as_of=as_of,
            jobs=jobs,
            progress=progress,
            templates=templates,
            stills=stills,
            store=store,
            before=out,
            copied=True,
        )
        files = "" if store is None else files_of(stage)  # here, where no other build can come in between
    if store is not None and known:
        keep_report(report, store=store, templates=templates, inputs=taking.result(), files=files)
    return report


def _last_written(catalog: Path) -> tuple[int, ...]:
    try:
        state = catalog.stat()
    except OSError:  # who copies it says so better
        return ()
    return state.st_mtime_ns, state.st_size, state.st_ino


def _copy(catalog: Path, as_of: datetime, stage: Path) -> None:
    public_copy(catalog, as_of=as_of, to=database_in(stage)).close()

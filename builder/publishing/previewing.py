"""A preview: everything in the catalogue as pages, hidden things marked, in a folder that is never a public site's."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from builder.publishing.building import compose_site
from builder.publishing.reports import BuildReport, Progress
from builder.publishing.site_folder import staged
from catalog.whole_files import require_apart


def build_preview(
    catalog: Path,
    out: Path,
    *,
    as_of: datetime,
    jobs: int,
    cache: Path | None,
    progress: Progress,
    templates: Path | None = None,
) -> BuildReport:
    """Build a preview of *catalog* into the folder *out*; what is hidden at the instant *as_of* is marked as such.

    Raises  BuildRefused: *out* is a public site, or another folder that is no preview; then it is as it was.
    """
    require_apart(out, catalog=catalog)
    with staged(out, preview=True) as stage:
        return compose_site(
            catalog, stage, as_of=as_of, jobs=jobs, cache=cache, progress=progress, templates=templates, preview=True
        )

"""Every question to the catalogue, as a function with a stated order; one SELECT a table, none per thing."""

from catalog.queries.facts import Fact, facts
from catalog.queries.hidden_words import HiddenWords, hidden_words
from catalog.queries.origins import (
    batches,
    corrections,
    embargoes,
    extras,
    hidden,
    method_in_force,
    methods,
    raw_content,
    raw_files,
)
from catalog.queries.publications import articles, disputes, images, site, withdrawals
from catalog.queries.results import (
    bridge_values,
    ceilings,
    digests,
    features,
    heat,
    longruns,
    parts,
    power,
    prices,
    stations,
    thinned,
)
from catalog.queries.runs import runs
from catalog.queries.things import (
    clients,
    devices,
    epochs,
    houses,
    sessions,
    spot_readings,
    workloads,
)

__all__ = [
    "Fact",
    "HiddenWords",
    "articles",
    "batches",
    "bridge_values",
    "ceilings",
    "clients",
    "corrections",
    "devices",
    "digests",
    "disputes",
    "embargoes",
    "epochs",
    "extras",
    "facts",
    "features",
    "heat",
    "hidden",
    "hidden_words",
    "houses",
    "images",
    "longruns",
    "method_in_force",
    "methods",
    "parts",
    "power",
    "prices",
    "raw_content",
    "raw_files",
    "runs",
    "sessions",
    "site",
    "spot_readings",
    "stations",
    "thinned",
    "withdrawals",
    "workloads",
]

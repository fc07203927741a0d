"""What readers see besides results: texts, pictures, withdrawals and disputes."""

from __future__ import annotations

from dataclasses import dataclass

from catalog.records.origins import Sourced


@dataclass(frozen=True, slots=True)
class Site:
    """Who publishes."""

    title: str
    author: str | None
    contact: str | None
    language: str | None
    address: str | None
    licence: str | None


@dataclass(frozen=True, slots=True)
class Article(Sourced):
    """A text in Markdown and the devices it is about."""

    article_id: str
    title: str
    published_utc: str
    path: str
    text: str
    devices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Image(Sourced):
    """A picture; its bytes are in the catalogue's raw contents under sha256."""

    image_id: int
    path: str
    sha256: str
    device: str | None
    kind: str
    alt: str
    credit: str | None


@dataclass(frozen=True, slots=True)
class Withdrawal(Sourced):
    """Something taken out of view with a reason; its page stays with the note."""

    what: str
    id: str
    from_date: str
    reason: str


@dataclass(frozen=True, slots=True)
class Dispute(Sourced):
    """One state of one dispute, about a figure or a device."""

    dispute_id: int
    figure: str | None
    device: str | None
    date: str
    raised_by: str
    claim: str
    state: str
    evidence: str | None
    retest: str | None

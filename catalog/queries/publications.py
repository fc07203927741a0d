"""What readers see besides results: the site, articles, images, withdrawals, disputes."""

from __future__ import annotations

from dataclasses import replace

from sqlite_utils import Database

from catalog.figure_names import parts_of
from catalog.queries.selecting import ORIGIN, select, select_names
from catalog.records import Article, Dispute, Image, Site, Withdrawal

SITE = "SELECT title, author, contact, language, address, licence FROM site"
ARTICLES = f"""
SELECT {ORIGIN}, article_id, title, published_utc, path, text FROM article ORDER BY published_utc, article_id
"""
ARTICLE_DEVICES = "SELECT article_id, device_id FROM article_device ORDER BY article_id, device_id"
IMAGES = f"""
SELECT {ORIGIN}, image_id, path, sha256, device_id AS device, kind, alt, credit
FROM image ORDER BY device_id, kind, path, batch_id
"""
WITHDRAWALS = f"SELECT {ORIGIN}, what, id, from_date, reason FROM withdrawal ORDER BY what, id"
DISPUTES = f"""
SELECT {ORIGIN}, dispute_id, figure, device_id AS device, date, raised_by, claim, state, evidence, retest
FROM dispute ORDER BY device_id, figure, date, dispute_id
"""


def site(db: Database) -> Site | None:
    """Who publishes; None before it is declared."""
    sites = select(db, SITE, Site)
    return sites[0] if sites else None


def articles(db: Database) -> list[Article]:
    """All articles, earliest first, with the ids of their devices."""
    return select(db, ARTICLES, Article, devices=select_names(db, ARTICLE_DEVICES))


def images(db: Database) -> list[Image]:
    """All images by device, kind and path."""
    return select(db, IMAGES, Image)


def withdrawals(db: Database) -> list[Withdrawal]:
    """All withdrawals by what and id."""
    return select(db, WITHDRAWALS, Withdrawal)


def disputes(db: Database) -> list[Dispute]:
    """All states of all disputes by device, figure and date; one about a role of a mix is about its device, too."""
    device_of = dict(db.execute("SELECT DISTINCT mix_id, device_id FROM station"))

    def about(dispute: Dispute) -> Dispute:
        kind, *names = parts_of(dispute.figure or "")
        if kind != "role" or dispute.device is not None:
            return dispute
        return replace(dispute, device=device_of.get(names[0]) if names else None)

    return [about(dispute) for dispute in select(db, DISPUTES, Dispute)]

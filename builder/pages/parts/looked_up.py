"""Articles with everything that they bind to the catalogue looked up, for their own pages and for those that tell of them."""

from __future__ import annotations

from builder import addresses
from builder.articles.bound_article import BoundArticle, bind, require_sound
from builder.articles.evidence import Evidence
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.disputing import disputed
from builder.pages.parts.picturing import pictures
from builder.pages.parts.played_roles import results_of
from catalog.records import Article


def evidence_of(catalogue: Catalogue, results: Results, site: SiteContext) -> Evidence:
    """What articles may quote."""
    return Evidence(
        results.bench,
        results.names,
        results.ranking,
        catalogue.withdrawals,
        catalogue.prices,
        catalogue.heat,
        catalogue.power,
        catalogue.features,
        catalogue.parts,
        lambda client: [ceiling for ceiling in catalogue.ceilings if ceiling.client == client],
        results.mix_results_of,
        results.longrun_results_of,
        catalogue.workloads,
        lambda workload: results_of(results, workload),
        site.old,
        disputed(catalogue).about,
    )


def bound_articles(catalogue: Catalogue, results: Results, site: SiteContext) -> tuple[BoundArticle, ...]:
    """Every published article, ready for its page. Raises BuildRefused with every problem of all of them."""
    articles = look_up(catalogue, results, site)
    require_sound(articles)
    return articles


def look_up(catalogue: Catalogue, results: Results, site: SiteContext) -> tuple[BoundArticle, ...]:
    """Every published article with its bindings looked up, and its problems where there are any."""
    return tuple(look_up_one(catalogue, results, site, article) for article in catalogue.articles)


def look_up_one(
    catalogue: Catalogue, results: Results, site: SiteContext, article: Article, *, in_text: bool = False
) -> BoundArticle:
    """One article with its bindings looked up, and its problems where there are any; *in_text* as `bind` has it."""
    images = [image for image in catalogue.images if image.batch_id == article.batch_id]
    shown = pictures(addresses.review(article.article_id), images, site.sizes)
    by_path = dict(zip((image.path for image in images), shown, strict=True))
    return bind(article, evidence_of(catalogue, results, site), by_path, in_text=in_text)

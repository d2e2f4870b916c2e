"""What must hold of reviews of the trail, retention and purges."""

from collections.abc import Iterator

from django.db import connection

from plant.audit.services.signing import stands_for
from plant.audit.verification.registry import Misfit, Note, verifier
from plant.records.models import Purged, PurgeOrder, RetentionRule, TrailReview
from plant.records.purging import PURGEABLES
from plant.records.services.retaining import order_content, rule_content
from plant.records.services.reviewing import content_of


@verifier("reviews of the trail stand as signed")
def trail_reviews() -> Iterator[Misfit]:
    """The signature of each review is for what it says now."""
    for review in TrailReview.objects.select_related("signature").order_by("pk"):
        if review.signature is None or not stands_for(review.signature, content_of(review)):
            yield Misfit(f"review of the trail {review.pk}", "its signature is not for this version")


@verifier("retention and purges stand as signed")
def retention() -> Iterator[Misfit | Note]:
    """Every rule, every order, and that exactly the rows of signed orders are empty."""
    for rule in RetentionRule.objects.select_related("signature", "room").order_by("pk"):
        if rule.signature is None or not stands_for(rule.signature, rule_content(rule)):
            yield Misfit(f"retention rule {rule.pk}", "its signature is not for this version")
    for order in PurgeOrder.objects.exclude(signature=None).select_related("signature").order_by("pk"):
        if not stands_for(order.signature, order_content(order)):  # type: ignore[arg-type]
            yield Misfit(f"purge order {order.pk}", "its signature is not for this version")
        yield from _carried_out(order)
    for row in Purged.objects.filter(order__signature=None).order_by("pk"):
        yield Misfit(f"{row.table_name} {row.row_id}", "it is listed as removed by an order that nobody signed")


def _carried_out(order: PurgeOrder) -> Iterator[Misfit | Note]:
    here = dict(order.purged.values_list("row_id", "digest"))
    if here != dict(order.listed):
        yield Misfit(f"purge order {order.pk}", "the rows listed as removed are not those that were signed for")
    item = PURGEABLES.get(order.matter)
    if item is None:
        return
    with connection.cursor() as cursor:
        # The names are those that the applications register.
        full = f"SELECT id FROM {item.table} WHERE {item.column} IS NOT NULL"  # noqa: S608
        cursor.execute(full + " AND id IN (SELECT row_id FROM records_purged WHERE order_id = %s)", [order.pk])  # noqa: S608
        for (key,) in cursor.fetchall():
            yield Misfit(f"{item.table} {key}", f"it was removed by order {order.pk} and has content again")
    yield Note(f"{len(here)} rows of {item.table} ({item.title}) purged by order {order.pk}, export kept elsewhere")

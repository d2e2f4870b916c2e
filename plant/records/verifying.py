"""What must hold of reviews of the trail, retention and purges."""

from collections.abc import Iterator

from plant.audit.services.signing import stands_for
from plant.audit.verification.registry import Misfit, verifier
from plant.records.models import TrailReview
from plant.records.services.reviewing import content_of


@verifier("reviews of the trail stand as signed")
def trail_reviews() -> Iterator[Misfit]:
    """The signature of each review is for what it says now."""
    for review in TrailReview.objects.select_related("signature").order_by("pk"):
        if review.signature is None or not stands_for(review.signature, content_of(review)):
            yield Misfit(f"review of the trail {review.pk}", "its signature is not for this version")

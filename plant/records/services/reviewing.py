"""The review of the trail."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.models import Event
from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Role
from plant.records.models import TrailReview


def content_of(review: TrailReview) -> dict[str, Any]:
    """What the reviewer signs."""
    return {"since": review.since, "until": review.until, "events": review.events, "remarks": review.remarks}


@transaction.atomic
def review_trail(*, since: datetime, until: datetime, remarks: str, confirmation: Confirmation) -> TrailReview:
    """QA looked through the events of a stretch of time and signs what was found."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Reviewing the audit trail")
    if until > at:
        raise Refused("future", "The stretch ends in the future. Review what is there; end it now.", field="last")
    if since >= until:
        raise Refused("out-of-order", "The stretch ends before it begins. Check both days.", field="first")
    if len(remarks.strip()) < 10:
        sentence = "Write what you looked at and what you found, at least a short sentence."
        raise Refused("no-remarks", sentence, field="remarks")
    count = Event.objects.filter(at__gte=since, at__lt=until).count()
    review = TrailReview.objects.create(
        at=at, reviewer=by, since=since, until=until, events=count, remarks=remarks.strip()
    )
    review.signature = sign(confirmation, meaning="trail reviewed", subject=review, content=content_of(review))
    review.save(update_fields=["signature"])
    record(
        stream="reviews",
        action="review-trail",
        subject=review,
        sentence=f"{by.name} reviewed {count} events, {since:%Y-%m-%d %H:%M} to {until:%Y-%m-%d %H:%M} UTC",
        by=by,
        at=at,
        facts={"signature": review.signature.digest, "since": since, "until": until, "remarks": review.remarks},
    )
    return review

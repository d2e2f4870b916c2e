"""What must hold of people: no role without an act that gave it, no review that was changed after it was signed."""

from collections.abc import Iterator

from plant.audit.models import Event
from plant.audit.services.signing import stands_for
from plant.audit.verification.files import facts_by_subject
from plant.audit.verification.registry import Misfit, verifier
from plant.people.models import AccessReview, Role, RoleGrant


@verifier("roles were granted by an act")
def granted_roles() -> Iterator[Misfit]:
    """Every role stands in the event of joining or in one that granted it."""
    joined = {key: set(facts.get("roles", ())) for key, facts in facts_by_subject("person", "join-person").items()}
    granted = set(Event.objects.filter(action="grant-role").values_list("subject_id", "sentence"))
    for grant in RoleGrant.objects.select_related("person").order_by("pk"):
        by_joining = grant.role in joined.get(str(grant.person_id), ())
        said = f"{grant.person.name} is now {Role(grant.role).label}" if grant.role in Role.values else ""
        if not by_joining and (str(grant.person_id), said) not in granted:
            yield Misfit(f"role {grant.role} of {grant.person.staff_no}", "no act of the trail gave it")


@verifier("reviews of access stand as signed")
def access_reviews() -> Iterator[Misfit]:
    """The signature of each review is for what it says now."""
    for review in AccessReview.objects.select_related("signature").order_by("pk"):
        content = {"seen": review.seen, "conclusion": review.conclusion}
        if review.signature is None or not stands_for(review.signature, content):
            yield Misfit(f"review of access {review.pk}", "its signature is not for this version")

"""Joiners, leavers, roles and the review of access. Each act is recorded; nothing is deleted."""

from collections.abc import Iterable
from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import AccessReview, Badge, Person, Role, RoleGrant
from plant.people.queries import active_people, people_with_role, role_words, roles_by_person

STREAM = "people"


def _may_keep_people(by: Person | None, at: datetime, act: str) -> None:
    # The very first person of an installation is made by the command line, where nobody is signed in yet.
    if by is not None:
        require_role(by, Role.KEEPER, at=at, act=act)
    elif Person.objects.exists():
        raise Refused("no-author", f"{act} takes a system keeper who signs in; only the first person comes without.")


@transaction.atomic
def join(
    *,
    staff_no: str,
    name: str,
    roles: Iterable[str],
    active_from: datetime,
    by: Person | None,
    at: datetime,
    active_to: datetime | None = None,
    employer: str = Person.Employer.PLANT,
    language: str = "en-gb",
    email: str = "",
    home_shift: str = "",
) -> Person:
    """Enter a person with the roles he or she starts with."""
    _may_keep_people(by, at, "Entering a person")
    staff_no, name, roles = staff_no.strip(), name.strip(), sorted(set(roles))
    if not staff_no or not name:
        field = "name" if staff_no else "staff_no"
        raise Refused("empty", "A person needs a staff number and a name. Type both.", field=field)
    sentence = f"Staff number {staff_no} was given before and is never given again. Choose a new one."
    taken = Refused("number-taken", sentence, field="staff_no")
    if Person.objects.filter(staff_no__iexact=staff_no).exists():
        raise taken
    unknown = [role for role in roles if role not in Role.values]
    if unknown:
        sentence = f"There is no role {unknown[0]!r}. Use one of {', '.join(Role.values)}."
        raise Refused("no-role", sentence, field="roles")
    if employer == Person.Employer.OUTSIDE and set(roles) - {Role.GUEST}:
        sentence = f"{name} comes from outside and may propose and comment only: the one role is guest."
        raise Refused("outside", sentence, field="roles")
    if employer == Person.Employer.OUTSIDE and active_to is None:
        raise Refused("no-end", "Access for an outside firm needs a last day. Enter the end date.", field="active_to")
    if active_to is not None and active_to <= active_from:
        raise Refused("ends-first", "The last day lies before the first. Check both dates.", field="active_to")
    person = Person(
        staff_no=staff_no,
        name=name,
        active_from=active_from,
        active_to=active_to,
        employer=employer,
        language=language,
        email=email,
        home_shift=home_shift,
    )
    person.set_unusable_password()
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError:  # of two who enter one number at once, the second
        raise taken from None
    RoleGrant.objects.bulk_create(
        RoleGrant(person=person, role=Role(role), granted_at=min(at, active_from), granted_by=by) for role in roles
    )
    facts = {"roles": roles, "employer": employer, "from": active_from, "to": active_to}
    record(
        stream=STREAM,
        action="join-person",
        subject=person,
        sentence=f"{name} ({staff_no}) entered as {', '.join(role_words(roles)) or 'person without role'}",
        by=by,
        at=at,
        facts=facts,
    )
    return person


def _refuse_last_keeper(person: Person, at: datetime) -> None:
    """Somebody must remain who can let others in. The keepers are locked, so that two cannot end one another."""
    keepers = people_with_role(Role.KEEPER, at=at)
    lasting = list(Person.objects.select_for_update().filter(pk__in=keepers, active_to=None).order_by("pk"))
    if [keeper.pk for keeper in lasting] == [person.pk]:
        sentence = f"{person.name} is the last system keeper. Make somebody else system keeper first."
        raise Refused("last-keeper", sentence)


@transaction.atomic
def leave(person: Person, *, leaves_at: datetime, reason: str, by: Person, at: datetime) -> Person:
    """Sign-in ends at the leave time; history and certificates remain; the badge is ended."""
    require_role(by, Role.KEEPER, at=at, act="Entering a leaver")
    if not reason.strip():
        raise Refused("no-reason", "Say why access ends; the reason stands in the record.", field="reason")
    _refuse_last_keeper(person, at)
    person = Person.objects.select_for_update().get(pk=person.pk)
    if person.active_to is not None and person.active_to <= at:
        raise Refused("left-already", f"{person.name} left at {person.active_to:%Y-%m-%d %H:%M} UTC already.")
    before, person.active_to = person.active_to, max(leaves_at, person.active_from)
    person.save(update_fields=["active_to"])
    Badge.objects.filter(person=person, ended_at=None).update(ended_at=leaves_at, end_reason="left the plant")
    record(
        stream=STREAM,
        action="leave-person",
        subject=person,
        sentence=f"{person.name} leaves; sign-in ends",
        by=by,
        at=at,
        facts={"before": before, "leaves_at": person.active_to},
        reason=reason,
    )
    return person


@transaction.atomic
def choose_language(person: Person, language: str, *, at: datetime) -> Person:
    """Pages of the shop floor and lessons speak this language to the person from now on. Everybody chooses the own."""
    spoken = dict(settings.LANGUAGES)
    if language not in spoken:
        sentence = f"The screens do not speak {language!r}. Choose one of {', '.join(spoken.values())}."
        raise Refused("no-language", sentence, field="language")
    person = Person.objects.select_for_update().get(pk=person.pk)
    before, person.language = person.language, language
    if before != language:
        person.save(update_fields=["language"])
        record(
            stream=STREAM,
            action="choose-language",
            subject=person,
            sentence=f"{person.name} chose {spoken[language]} for the shop floor",
            by=person,
            at=at,
            facts={"before": before, "after": language},
        )
    return person


@transaction.atomic
def grant_role(person: Person, role: str, *, by: Person, at: datetime, reason: str = "") -> RoleGrant:
    """Give a role from now on."""
    require_role(by, Role.KEEPER, at=at, act="Granting a role")
    Person.objects.select_for_update().get(pk=person.pk)
    if RoleGrant.objects.filter(person=person, role=role, ended_at=None).exists():
        raise Refused("held-already", f"{person.name} already is {Role(role).label}.", field="role")
    if person.employer == Person.Employer.OUTSIDE and role != Role.GUEST:
        sentence = f"{person.name} comes from outside and may propose and comment only: the one role is guest."
        raise Refused("outside", sentence, field="role")
    grant = RoleGrant.objects.create(person=person, role=Role(role), granted_at=at, granted_by=by)
    sentence = f"{person.name} is now {Role(role).label}"
    record(stream=STREAM, action="grant-role", subject=person, sentence=sentence, by=by, at=at, reason=reason)
    return grant


@transaction.atomic
def end_role(person: Person, role: str, *, by: Person, at: datetime, reason: str) -> None:
    """Take a role away from now on."""
    require_role(by, Role.KEEPER, at=at, act="Ending a role")
    if not reason.strip():
        raise Refused("no-reason", "Say why the role ends; the reason stands in the record.", field="reason")
    if role == Role.KEEPER:
        _refuse_last_keeper(person, at)
    ended = RoleGrant.objects.filter(person=person, role=role, ended_at=None).update(ended_at=at, ended_by=by)
    if not ended:
        raise Refused("not-held", f"{person.name} does not hold the role {Role(role).label}.", field="role")
    sentence = f"{person.name} is no longer {Role(role).label}"
    record(stream=STREAM, action="end-role", subject=person, sentence=sentence, by=by, at=at, reason=reason)


@transaction.atomic
def review_access(*, conclusion: str, confirmation: Confirmation) -> AccessReview:
    """Keep what the reviewer saw of roles and logins, and the signed conclusion."""
    reviewer, at = confirmation.person, confirmation.at
    require_role(reviewer, Role.KEEPER, Role.QA, Role.MANAGER, at=at, act="Reviewing access")
    if len(conclusion.strip()) < 10:
        sentence = "Write what you found and what follows, at least a short sentence."
        raise Refused("no-conclusion", sentence, field="conclusion")
    held = roles_by_person(at)
    seen = [[p.staff_no, p.name, held.get(p.pk, [])] for p in active_people(at).order_by("staff_no")]
    review = AccessReview.objects.create(at=at, reviewer=reviewer, seen=seen, conclusion=conclusion)
    content = {"seen": seen, "conclusion": conclusion}
    review.signature = sign(confirmation, meaning="access reviewed", subject=review, content=content)
    review.save(update_fields=["signature"])
    record(
        stream=STREAM,
        action="review-access",
        subject=review,
        sentence=f"{reviewer.name} reviewed the access of {len(seen)} persons",
        by=reviewer,
        at=at,
        facts={"signature": review.signature.digest},
    )
    return review

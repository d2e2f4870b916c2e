"""Joiners, leavers, roles, badges and the review of access.

An id belongs to one person and is never reused: 21 CFR 11.100(a). Identity is verified before: 11.100(b). Issued codes
are checked periodically and lost ones de-authorised: 11.300(b), (c). Everything else is our own default.
"""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from plant.audit.models import Event
from plant.audit.services.signing import stands_for
from plant.errors import Forbidden, Refused
from plant.people.codes import LETTERS, typed_code
from plant.people.models import AccessReview, Badge, Person, RoleGrant
from plant.people.queries import access_list, badge_in_use, events_around, roles_of
from plant.people.services import (
    end_badge,
    end_role,
    grant_role,
    issue_badge,
    join,
    leave,
    review_access,
)
from tests import make
from tests.conftest import Cast

AT = make.AT
pytestmark = pytest.mark.django_db


def enter(by: Person | None, **fields) -> Person:
    given = {"staff_no": "4711", "name": "Ada Coming", "roles": ["operator"], "active_from": AT, "at": AT}
    return join(by=by, **given | fields)


def test_a_joiner_gets_roles_from_now_on_and_the_act_is_recorded(cast: Cast) -> None:
    events = Event.objects.count()
    made = enter(cast.keeper, roles=["operator", "trainer"])
    assert roles_of(made, AT) == {"operator", "trainer"}
    assert not made.has_usable_password()
    assert Event.objects.count() == events + 1
    event = Event.objects.latest("pk")
    assert (event.action, event.actor, event.subject_id) == ("join-person", cast.keeper, str(made.pk))


def test_only_a_system_keeper_enters_people_and_only_the_first_comes_without(cast: Cast) -> None:
    first = enter(None, roles=["keeper"])
    assert roles_of(first, AT) == {"keeper"}
    with pytest.raises(Refused, match="takes a system keeper"):
        enter(None, staff_no="4712")
    with pytest.raises(Forbidden, match="Ada Coming can"):
        enter(cast.hanna, staff_no="4712")


def test_a_staff_number_is_never_given_again_also_not_after_its_person_left(cast: Cast) -> None:
    gone = enter(cast.keeper)
    leave(gone, leaves_at=AT, reason="moved away", by=cast.keeper, at=AT)
    for again in ("4711", " 4711 "):
        with pytest.raises(Refused) as refusal:
            enter(cast.keeper, staff_no=again, name="Bo Other")
        assert (refusal.value.code, refusal.value.field) == ("number-taken", "staff_no")
    enter(cast.keeper, staff_no="ab-1")
    with pytest.raises(Refused, match="never given again"):
        enter(cast.keeper, staff_no="AB-1")


@pytest.mark.db_both
def test_the_database_itself_refuses_a_second_person_with_the_number_and_keeps_a_person_with_history(
    cast: Cast,
) -> None:
    gone = enter(cast.keeper)
    with pytest.raises(IntegrityError), transaction.atomic():
        Person.objects.create(staff_no="4711", name="Bo Other", active_from=AT)
    with pytest.raises(ProtectedError):
        gone.delete()


@pytest.mark.parametrize(
    ("fields", "code", "field"),
    [
        ({"staff_no": "  "}, "empty", "staff_no"),
        ({"name": ""}, "empty", "name"),
        ({"roles": ["emperor"]}, "no-role", "roles"),
        ({"active_to": AT}, "ends-first", "active_to"),
        ({"employer": "outside", "roles": ["guest"]}, "no-end", "active_to"),
        ({"employer": "outside", "active_to": AT + timedelta(days=6)}, "outside", "roles"),
    ],
)
def test_a_joiner_with_something_missing_or_wrong_is_refused_with_the_field(
    cast: Cast, fields, code: str, field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        enter(cast.keeper, **fields)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert not Person.objects.filter(staff_no="4711").exists()


def test_an_outside_person_is_a_guest_until_the_last_day_and_can_be_granted_nothing_else(cast: Cast) -> None:
    end = AT + timedelta(days=6)
    guest = enter(cast.keeper, employer="outside", roles=["guest"], active_to=end)
    assert roles_of(guest, end - timedelta(seconds=1)) == {"guest"}
    assert roles_of(guest, end) == frozenset()
    with pytest.raises(Refused, match="the one role is guest"):
        grant_role(guest, "engineer", by=cast.keeper, at=AT)


def test_a_leaver_loses_roles_and_badge_at_the_leave_time_and_keeps_history_and_certificates(cast: Cast) -> None:
    badge = issue_badge(cast.ines, code="AAAA-2222", by=cast.keeper, at=AT)
    end = AT + timedelta(hours=5)
    leave(cast.ines, leaves_at=end, reason="new job", by=cast.keeper, at=AT)
    ines = Person.objects.get(pk=cast.ines.pk)
    just_before = end - timedelta(microseconds=1)
    assert roles_of(ines, just_before) == {"operator"}
    assert badge_in_use(ines, just_before) == badge
    assert roles_of(ines, end) == frozenset()
    assert badge_in_use(ines, end) is None
    assert ines.certificates.count() == 2
    assert RoleGrant.objects.filter(person=ines).exists()
    assert [each.person for each in access_list(end)] == [cast.keeper]
    assert ines in [each.person for each in access_list(end, everybody=True)]


def test_leaving_takes_a_reason_and_happens_once(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        leave(cast.ines, leaves_at=AT, reason=" ", by=cast.keeper, at=AT)
    assert (refusal.value.code, refusal.value.field) == ("no-reason", "reason")
    leave(cast.ines, leaves_at=AT, reason="new job", by=cast.keeper, at=AT)
    with pytest.raises(Refused, match="left at 2026-03-25"):
        leave(cast.ines, leaves_at=AT, reason="new job", by=cast.keeper, at=AT)


def test_roles_are_granted_and_ended_in_time_with_author_and_reason(cast: Cast) -> None:
    grant_role(cast.ines, "trainer", by=cast.keeper, at=AT)
    with pytest.raises(Refused, match="already is trainer"):
        grant_role(cast.ines, "trainer", by=cast.keeper, at=AT)
    later = AT + timedelta(hours=1)
    end_role(cast.ines, "trainer", by=cast.keeper, at=later, reason="course is over")
    assert roles_of(cast.ines, later - timedelta(seconds=1)) == {"operator", "trainer"}
    assert roles_of(cast.ines, later) == {"operator"}
    said = [(event.action, event.reason) for event in events_around(cast.ines)]
    assert said[:2] == [("end-role", "course is over"), ("grant-role", "")]
    with pytest.raises(Refused, match="does not hold the role trainer"):
        end_role(cast.ines, "trainer", by=cast.keeper, at=later, reason="course is over")
    for act in (grant_role, end_role):
        with pytest.raises(Forbidden):
            act(cast.ines, "qa", by=cast.sol, at=AT, reason="needed tonight")


def test_a_new_badge_ends_the_old_one_and_a_lost_one_stops_at_once(cast: Cast) -> None:
    first = issue_badge(cast.ines, code="AAAA-2222", by=cast.keeper, at=AT)
    second = issue_badge(cast.ines, code="BBBB-3333", by=cast.keeper, at=AT + timedelta(minutes=1))
    first.refresh_from_db()
    assert first.end_reason == "replaced by a new badge"
    end_badge(second, reason="lost on the way", by=cast.keeper, at=AT + timedelta(minutes=2))
    assert badge_in_use(cast.ines, AT + timedelta(minutes=2)) is None
    with pytest.raises(Refused, match="ended before"):
        end_badge(second, reason="lost on the way", by=cast.keeper, at=AT + timedelta(minutes=3))
    with pytest.raises(Forbidden):
        issue_badge(cast.ines, code="CCCC-4444", by=cast.hanna, at=AT)
    trail = " ".join(event.body for event in events_around(cast.ines))
    assert "2222" in trail
    assert "AAAA-2222" not in trail  # the trail names the end of the code only


def test_a_badge_belongs_to_an_active_person(cast: Cast) -> None:
    gone = make.person("Ivo Gone", "operator", active_to=AT)
    with pytest.raises(Refused, match="gets no badge"):
        issue_badge(gone, code="AAAA-2222", by=cast.keeper, at=AT)


@pytest.mark.db_both
def test_the_database_refuses_two_badges_in_use_and_a_code_used_again(cast: Cast) -> None:
    issue_badge(cast.ines, code="AAAA-2222", by=cast.keeper, at=AT)
    for person, code in ((cast.ines, "DDDD-5555"), (cast.mei, "AAAA-2222")):
        with pytest.raises(IntegrityError), transaction.atomic():
            Badge.objects.create(person=person, code=code, issued_at=AT)


def test_codes_are_drawn_by_chance_from_letters_that_nobody_confuses() -> None:
    # About 20 bits for each group; 10,000 draws of 79 bits do not meet.
    codes = {typed_code(4) for _ in range(10_000)}
    assert len(codes) == 10_000
    assert not set("01IOL") & set(LETTERS)
    assert {len(code) for code in codes} == {19}  # a badge holds 24


def test_a_review_keeps_what_was_seen_and_is_signed_for_exactly_that(cast: Cast) -> None:
    assert cast.ines
    conclusion = "Ines keeps her role; nobody left was forgotten."
    review = review_access(conclusion=conclusion, confirmation=make.confirmation(cast.yuki))
    assert [cast.ines.staff_no, "Ines Varga", ["operator"]] in review.seen
    content = {"seen": review.seen, "conclusion": conclusion}
    assert stands_for(review.signature, content)
    assert not stands_for(review.signature, content | {"conclusion": "Nothing found."})
    grant_role(cast.ines, "trainer", by=cast.keeper, at=AT + timedelta(days=1))
    kept = AccessReview.objects.get(pk=review.pk)
    assert [cast.ines.staff_no, "Ines Varga", ["operator"]] in kept.seen
    assert Event.objects.filter(action="review-access", actor=cast.yuki).count() == 1


def test_keeper_qa_and_manager_review_access_with_a_conclusion_and_nobody_else(cast: Cast) -> None:
    for by in (cast.keeper, cast.yuki, cast.sol):
        review_access(conclusion="All as it should be.", confirmation=make.confirmation(by))
    with pytest.raises(Forbidden):
        review_access(conclusion="All as it should be.", confirmation=make.confirmation(cast.hanna))
    with pytest.raises(Refused) as refusal:
        review_access(conclusion=" ok ", confirmation=make.confirmation(cast.yuki))
    assert refusal.value.field == "conclusion"
    assert AccessReview.objects.count() == 3

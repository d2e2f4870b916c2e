"""Issuing, taking over, suspending, reinstating and withdrawing certificates.

Who may issue, how long a skill lasts and what it needs are our own defaults. That nobody certifies himself or herself,
and that a signature stands for one content, follow 21 CFR 11.10(g) and 11.70 in spirit.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from plant.audit.models import Event, Signature
from plant.audit.services.signing import stands_for
from plant.errors import Forbidden, Refused
from tests import make
from training.models import Certificate, CertificateAct, Skill
from training.queries import is_certified, standing
from training.services import (
    content_of,
    import_founding_certificate,
    issue_certificate,
    reinstate,
    suspend,
    withdraw,
)

AT = make.AT
TODAY = date(2026, 3, 25)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def vienna(db: None) -> None:
    make.plant()


@pytest.fixture
def nils(db: None):
    return make.person("Nils Ferro", "operator", skills="aware")


def issue(to, skill="apply", *, by, **fields) -> Certificate:
    given = {"valid_from": TODAY, "evidence": "test sheet 14, practical 7", "confirmation": make.confirmation(by)}
    return issue_certificate(to, skill, **given | fields)


def test_a_trainer_an_assessor_and_qa_may_issue_and_the_person_may_work_from_that_moment(cast, nils) -> None:
    for by, skill in ((cast.greta, "apply"), (cast.dara, "check"), (cast.yuki, "food")):
        certificate = issue(nils, skill, by=by)
        assert certificate.issued_by == by
    assert is_certified(nils, "check", "food", AT)
    assert not is_certified(nils, "check", "food", AT - timedelta(seconds=1))


def test_what_was_done_on_the_morning_before_the_signature_stays_uncertified(cast, nils) -> None:
    issue(nils, by=cast.greta)
    found = standing(nils, "apply", "general", AT - timedelta(hours=1))
    assert found.code == "not-yet-valid"
    assert "was issued on 25 March 2026 10:00 (UTC+0100), not before" in found.sentence


def test_a_certificate_lasts_to_the_anniversary_unless_a_nearer_day_is_given(cast, nils) -> None:
    assert issue(nils, by=cast.greta).valid_to == date(2027, 3, 25)
    assert issue(nils, "size", by=cast.greta, valid_to=date(2026, 9, 30)).valid_to == date(2026, 9, 30)


def test_issuing_writes_one_event_and_one_signature_for_exactly_this_content(cast, nils) -> None:
    acts = Event.objects.exclude(action="sign")
    events = acts.count()
    certificate = issue(nils, by=cast.greta)
    assert acts.count() == events + 1
    event = Event.objects.latest("pk")
    assert (event.stream, event.action, event.actor) == ("training", "issue-certificate", cast.greta)
    signature = Signature.objects.get(subject_type="certificate", subject_id=str(certificate.pk))
    assert (signature.printed_name, signature.meaning) == ("Greta Munro", "certificate issued")
    assert stands_for(signature, content_of(certificate))
    assert not stands_for(signature, content_of(certificate) | {"valid_to": date(2030, 1, 1)})
    assert signature.digest in event.body


def test_roles_that_may_not_issue_are_refused_and_told_who_can(cast, nils) -> None:
    assert cast.greta
    for by in (cast.hanna, cast.ines, cast.sol, cast.keeper):
        with pytest.raises(Forbidden, match="Greta Munro") as refusal:
            issue(nils, by=by)
        assert refusal.value.code == "wrong-role"
    assert not nils.certificates.filter(skill__code="apply").exists()


def test_nobody_issues_or_takes_over_or_reinstates_an_own_certificate(cast) -> None:
    assert cast.dara
    with pytest.raises(Refused) as refusal:
        issue(cast.greta, "size", by=cast.greta)
    assert refusal.value.code == "own-certificate"
    assert "Dara Whitlow" in refusal.value.sentence
    with pytest.raises(Refused, match="Nobody issues"):
        founding(cast.greta, by=cast.greta)
    own = cast.greta.certificates.get(skill__code="apply")
    suspend(own, reason="absent 7 months", by=cast.greta, at=AT)
    with pytest.raises(Refused, match="Nobody reinstates"):
        reinstate(own, reason="back again", by=cast.greta, at=AT)


@pytest.mark.db_both
def test_the_database_itself_refuses_a_certificate_by_oneself_and_any_change_to_one(cast) -> None:
    skill = Skill.objects.get(code="size")
    row = {"person": cast.greta, "skill": skill, "valid_from": TODAY, "evidence": "x", "issued_at": AT}
    with pytest.raises(IntegrityError), transaction.atomic():
        Certificate.objects.create(**row, number="C-X", valid_to=TODAY, issued_by=cast.greta)
    with pytest.raises(IntegrityError), transaction.atomic():
        Certificate.objects.create(**row, number="C-Y", valid_to=TODAY - timedelta(days=1))
    certificate = cast.greta.certificates.first()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Certificate.objects.filter(pk=certificate.pk).update(valid_to=date(2040, 1, 1))
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        certificate.delete()


@pytest.mark.parametrize(
    ("fields", "code", "field", "words"),
    [
        ({"evidence": "  ok "}, "no-evidence", "evidence", "practical"),
        ({"evidence": "x" * 301}, "long-evidence", "evidence", "300"),
        ({"valid_from": date(2026, 3, 24)}, "backdated", "valid_from", "25 March 2026"),
        ({"valid_from": date(2026, 5, 25)}, "too-early", "valid_from", "24 May 2026"),
        ({"valid_to": date(2026, 3, 24)}, "ends-first", "valid_to", "before the first"),
        ({"valid_to": date(2027, 3, 26)}, "too-long", "valid_to", "25 March 2027"),
    ],
)
def test_a_bad_day_or_no_evidence_is_refused_with_the_field_and_what_to_do(
    cast, nils, fields, code, field, words
) -> None:
    with pytest.raises(Refused) as refusal:
        issue(nils, by=cast.greta, **fields)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert words in refusal.value.sentence


def test_today_is_the_day_by_the_clock_of_the_plant(cast, nils) -> None:
    # 23:30 UTC on the 25th is 00:30 on the 26th in Vienna.
    night = replace(make.confirmation(cast.greta), at=datetime(2026, 3, 25, 23, 30, tzinfo=UTC))
    with pytest.raises(Refused, match="26 March 2026"):
        issue(nils, by=cast.greta, confirmation=night)
    assert issue(nils, by=cast.greta, confirmation=night, valid_from=date(2026, 3, 26))


def test_what_a_skill_is_built_on_comes_first(cast) -> None:
    new = make.person("Ola Fresh", "operator")
    for skill, missing in (("apply", "Aware"), ("check", "Apply"), ("food", "Apply")):
        with pytest.raises(Refused, match=f"never been certified for {missing}") as refusal:
            issue(new, skill, by=cast.greta)
        assert refusal.value.code == "needs-first"
    assert issue(new, "aware", by=cast.greta)


def test_a_new_certificate_is_no_way_round_a_suspension(cast) -> None:
    suspend(cast.ines.certificates.get(skill__code="apply"), reason="two failed checks", by=cast.hanna, at=AT)
    with pytest.raises(Refused, match="Reinstate or withdraw it first"):
        issue(cast.ines, by=cast.greta)


def test_after_a_withdrawal_a_new_certificate_brings_the_skill_back(cast) -> None:
    withdraw(cast.ines.certificates.get(skill__code="apply"), reason="false record", by=cast.yuki, at=AT)
    assert not is_certified(cast.ines, "apply", "general", AT)
    issue(cast.ines, by=cast.greta)
    assert is_certified(cast.ines, "apply", "general", AT)


def test_guests_leavers_and_unknown_skills_get_no_certificate(cast) -> None:
    end = AT + timedelta(days=6)
    guest = make.person("Hal Visitor", "guest", employer="outside", active_to=end)
    left = make.person("Ivo Gone", "operator", skills="aware", active_to=AT)
    for who, code in ((guest, "outside"), (left, "not-active")):
        with pytest.raises(Refused) as refusal:
            issue(who, "aware", by=cast.greta)
        assert refusal.value.code == code
    with pytest.raises(Refused, match="no skill 'juggle'"):
        issue(cast.ines, "juggle", by=cast.greta)


def founding(to, skill="apply", *, by, **fields) -> Certificate:
    given = {
        "valid_from": date(2025, 6, 1),
        "valid_to": date(2026, 6, 1),
        "evidence": "card 88 of the paper register",
        "at": AT,
    }
    return import_founding_certificate(to, skill, by=by, **given | fields)


def test_keeper_qa_and_trainer_take_over_certificates_from_before_marked_founding(cast, nils) -> None:
    for by, skill in ((cast.keeper, "apply"), (cast.yuki, "check"), (cast.greta, "food")):
        assert founding(nils, skill, by=by).founding
    assert is_certified(nils, "check", "food", datetime(2025, 7, 1, tzinfo=UTC))
    assert Event.objects.filter(action="import-certificate").count() == 3
    with pytest.raises(Forbidden):
        founding(nils, "size", by=cast.hanna)


def test_a_founding_certificate_keeps_its_own_number_once_and_gets_a_free_one_otherwise(cast, nils) -> None:
    taken = f"C-{nils.staff_no}-2"
    assert founding(nils, by=cast.keeper, number=f" {taken} ").number == taken
    with pytest.raises(Refused) as refusal:
        founding(nils, "check", by=cast.keeper, number=taken)
    assert (refusal.value.code, refusal.value.field) == ("number-taken", "number")
    assert founding(nils, "check", by=cast.keeper).number == f"C-{nils.staff_no}-3"


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"evidence": ""}, "no-evidence"),
        ({"valid_to": date(2025, 5, 31)}, "ends-first"),
        ({"valid_from": date(2026, 3, 26)}, "not-founding"),
    ],
)
def test_a_founding_certificate_needs_evidence_and_days_that_fit(cast, nils, fields, code) -> None:
    with pytest.raises(Refused) as refusal:
        founding(nils, by=cast.keeper, **fields)
    assert refusal.value.code == code


def test_supervisor_qa_and_trainer_suspend_at_once_with_one_event_that_names_what_stops_too(cast) -> None:
    events = Event.objects.count()
    suspend(cast.yuki.certificates.get(skill__code="apply"), reason="gowning breach", by=cast.hanna, at=AT)
    assert Event.objects.count() == events + 1
    event = Event.objects.latest("pk")
    assert event.reason == "gowning breach"
    assert "Check, Food room, Medical room and Hot roller built on it stop too" in event.sentence
    assert not is_certified(cast.yuki, "check", "food", AT)
    suspend(cast.ines.certificates.get(skill__code="apply"), reason="absent 7 months", by=cast.greta, at=AT)
    withdraw(cast.ines.certificates.get(skill__code="apply"), reason="left the line", by=cast.yuki, at=AT)


def test_operators_engineers_and_the_system_keeper_suspend_nobody(cast) -> None:
    mine = cast.ines.certificates.get(skill__code="apply")
    for act in (suspend, reinstate, withdraw):
        for by in (cast.tomas, cast.dara, cast.keeper):
            with pytest.raises(Forbidden):
                act(mine, reason="because I can", by=by, at=AT)
    assert not CertificateAct.objects.exists()


def test_a_suspension_takes_every_certificate_of_the_skill_and_a_reinstatement_gives_all_back(cast) -> None:
    make.certificate(cast.ines, "apply", since=date(2026, 4, 1), until=date(2027, 4, 1))
    older = cast.ines.certificates.filter(skill__code="apply").order_by("valid_from")[0]
    assert len(suspend(older, reason="two failed checks", by=cast.hanna, at=AT)) == 2
    assert len(reinstate(older, reason="passed the re-test", by=cast.greta, at=AT)) == 2
    assert is_certified(cast.ines, "apply", "general", AT)


def test_suspending_twice_or_reinstating_what_is_not_suspended_says_what_the_state_is(cast) -> None:
    mine = cast.ines.certificates.get(skill__code="apply")
    with pytest.raises(Refused, match="is valid now; there is nothing to reinstate"):
        reinstate(mine, reason="just in case", by=cast.hanna, at=AT)
    suspend(mine, reason="two failed checks", by=cast.hanna, at=AT)
    with pytest.raises(Refused, match="is suspended now; there is nothing to suspend"):
        suspend(mine, reason="two failed checks", by=cast.hanna, at=AT)
    withdraw(mine, reason="false record", by=cast.hanna, at=AT)
    for act, verb in ((suspend, "suspend"), (reinstate, "reinstate"), (withdraw, "withdraw")):
        with pytest.raises(Refused, match=f"is withdrawn now; there is nothing to {verb}"):
            act(mine, reason="once more", by=cast.hanna, at=AT)
    with pytest.raises(Refused, match="is lapsed now"):
        suspend(cast.rui.certificates.first(), reason="too late", by=cast.hanna, at=AT + timedelta(days=2))


@pytest.mark.parametrize(("reason", "code"), [(" no ", "no-reason"), ("y" * 301, "long-reason")])
def test_a_suspension_needs_a_reason_of_fitting_length(cast, reason, code) -> None:
    with pytest.raises(Refused) as refusal:
        suspend(cast.ines.certificates.first(), reason=reason, by=cast.hanna, at=AT)
    assert (refusal.value.code, refusal.value.field) == (code, "reason")

"""What falls due, who is told of it, and how often: once, also after the clock stood still."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core import mail

from plant.audit.models import Event
from plant.errors import Forbidden, Refused
from plant.jobs.models import Job
from plant.jobs.running import tick
from plant.people.models import Person
from tests import make
from tests.make import AT
from training.models import Due, Note
from training.services import (
    answer_refresher,
    ask_refresher,
    issue_certificate,
    raise_dues,
    reinstate,
    set_aside,
    suspend,
    tell_job_done,
    tell_trigger,
    withdraw,
)
from training.services.mailing import mail_notes
from training.wall import due_wall

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]


def renewals(person: Person) -> list[Due]:
    return list(Due.objects.filter(person=person, kind=Due.Kind.RENEWAL).order_by("due_on"))


def notes_of(person: Person) -> list[str]:
    return [note.sentence for note in Note.objects.filter(to=person).order_by("pk")]


@pytest.fixture
def ines(cast) -> Person:
    """Her Apply ends in 20 days, her Aware next year."""
    make.plant()
    person = make.person("Ines Varga", "operator", skills="aware", home_shift="Early")
    make.certificate(person, "apply", until=AT.date() + timedelta(days=20))
    return person


def test_a_certificate_that_ends_within_90_days_is_raised_once_with_its_true_day(ines) -> None:
    raise_dues(AT)
    raise_dues(AT + timedelta(hours=1))
    (due,) = renewals(ines)
    assert (due.skill.code, due.due_on, due.rule) == ("apply", date(2026, 4, 14), "chosen day")
    assert due.closed_at is None


def test_what_ends_later_than_90_days_is_not_raised_yet(ines) -> None:
    make.certificate(ines, "hot", until=AT.date() + timedelta(days=91))
    raise_dues(AT)
    assert [due.skill.code for due in renewals(ines)] == ["apply"]
    raise_dues(AT + timedelta(days=1))
    assert [due.skill.code for due in renewals(ines)] == ["apply", "hot"]


def test_person_supervisor_of_the_shift_and_trainer_are_told_once_each(cast, ines) -> None:
    early = make.person("Hanna Lindqvist", "supervisor", home_shift="Early")
    night = make.person("Babak Nouri", "supervisor", home_shift="Night")
    trainer = cast.greta
    for hour in range(3):
        raise_dues(AT + timedelta(hours=hour))
    assert not any("Ines" in said for said in notes_of(night))
    for person in (early, trainer):
        told = [said for said in notes_of(person) if said.startswith("Ines Varga: Apply, renewal")]
        assert told == [
            "Ines Varga: Apply, renewal, is due on 14 April 2026, in 20 days. Apply certificate "
            f"{ines.certificates.get(skill__code='apply').number} ends at midnight after 14 April 2026."
        ]
    assert any(said.startswith("Your Apply, renewal, is due") for said in notes_of(ines))


def test_reminders_come_at_60_30_14_7_and_1_days_and_when_the_day_has_passed(ines) -> None:
    due_on = AT.date() + timedelta(days=20)
    for left in range(70, -4, -1):
        at = datetime(due_on.year, due_on.month, due_on.day, 10, tzinfo=UTC) - timedelta(days=left)
        raise_dues(at)
    notes = Note.objects.filter(to=ines, due__kind=Due.Kind.RENEWAL, due__skill__code="apply")
    assert list(notes.order_by("pk").values_list("days", flat=True)) == [60, 30, 14, 7, 1, 0]


def test_after_a_standstill_the_reminder_that_is_true_now_comes_once_with_the_true_day(ines) -> None:
    raise_dues(AT + timedelta(days=15))  # 5 days before; nothing ran at 60, 30 and 14
    notes = Note.objects.filter(to=ines, due__kind=Due.Kind.RENEWAL, due__skill__code="apply")
    assert [note.days for note in notes] == [7]
    assert "is due on 14 April 2026, in 5 days" in notes[0].sentence


def test_a_lapse_is_noted_in_the_trail_once_with_the_true_last_day_also_after_downtime(ines) -> None:
    raise_dues(AT + timedelta(days=40))
    raise_dues(AT + timedelta(days=41))
    (event,) = Event.objects.filter(action="lapse-certificate")
    assert event.actor is None
    assert "lapsed at the end of 14 April 2026" in event.sentence
    assert renewals(ines)[0].passed_at == AT + timedelta(days=40)
    assert due_wall(AT + timedelta(days=41), kind="renewal")[0].cards[0].left == -21


def test_a_renewal_closes_what_was_due_and_says_by_what(cast, ines) -> None:
    raise_dues(AT)
    made = issue_certificate(
        ines,
        "apply",
        valid_from=AT.date(),
        evidence="test 41 and practical 17",
        confirmation=make.confirmation(cast.greta),
    )
    due = renewals(ines)[0]
    assert due.closed_why == f"certificate {made.number} issued"
    assert (made.valid_to, made.rule) == (date(2027, 4, 14), "anniversary")
    assert made.renews.valid_to == date(2026, 4, 14)


def test_who_leaves_is_on_no_wall_and_is_told_nothing(ines) -> None:
    raise_dues(AT)
    told = Note.objects.count()
    Person.objects.filter(pk=ines.pk).update(active_to=AT + timedelta(days=1))
    raise_dues(AT + timedelta(days=18))
    assert not Due.objects.filter(person=ines, closed_at=None).exists()
    assert Note.objects.count() == told


def test_a_withdrawn_certificate_is_not_due_for_renewal(cast, ines) -> None:
    raise_dues(AT)
    withdraw(ines.certificates.get(skill__code="apply"), reason="moved to the office", by=cast.hanna, at=AT)
    assert not Due.objects.filter(person=ines, skill__code="apply", closed_at=None).exists()


def test_what_is_due_again_after_a_suspension_stands_on_the_wall_again(cast, ines) -> None:
    raise_dues(AT)
    founding = Due.objects.get(person=ines, skill__code="apply", kind=Due.Kind.FOUNDING)
    certificate = ines.certificates.get(skill__code="apply")
    suspend(certificate, reason="does not feel safe", by=cast.hanna, at=AT)
    founding.refresh_from_db()
    assert founding.closed_at == AT
    reinstate(certificate, reason="talked it over", by=cast.hanna, at=AT + timedelta(hours=1))
    founding.refresh_from_db()
    assert founding.closed_at is None


def test_a_founding_certificate_is_looked_at_again_within_90_days(cast, ines) -> None:
    raise_dues(AT)
    due = Due.objects.get(person=ines, skill__code="aware", kind=Due.Kind.FOUNDING)
    assert due.due_on == date(2024, 1, 1) + timedelta(days=90)  # the builder took it over on 1 January 2024
    issue_certificate(
        ines, "aware", valid_from=AT.date(), evidence="assessed again", confirmation=make.confirmation(cast.greta)
    )
    due.refresh_from_db()
    assert due.closed_at == AT


def test_too_little_practice_asks_for_a_refresher_and_takes_no_certificate_away(cast, ines) -> None:
    tell_job_done(ines, "apply", "general", AT - timedelta(days=100), "A05")
    tell_job_done(ines, "remove", "general", AT - timedelta(days=150), "A05")
    raise_dues(AT)
    due = Due.objects.get(person=ines, kind=Due.Kind.CURRENCY)
    assert due.due_on == date(2026, 4, 26)  # six months after the older of the last two jobs, 26 October 2025
    raise_dues(datetime(2026, 4, 10, 8, tzinfo=UTC))
    assert ines.certificates.get(skill__code="apply").acts.count() == 0
    tell_job_done(ines, "apply", "general", datetime(2026, 4, 11, 8, tzinfo=UTC), "A05")
    raise_dues(datetime(2026, 4, 12, 8, tzinfo=UTC))
    due.refresh_from_db()
    assert "practice is on record" in due.closed_why


def test_a_trainees_job_counts_for_the_person_who_answered_for_it(cast, ines) -> None:
    row = tell_job_done(ines, "apply", "general", AT, "A05", supervised_by=cast.lena, key="fact:1")
    assert tell_job_done(ines, "apply", "general", AT, "A05", supervised_by=cast.lena, key="fact:1") == row
    assert [(job.person, job.supervised_by) for job in ines.jobs_done.all()] == [(ines, cast.lena)]
    assert [(job.person, job.supervised_by) for job in cast.lena.jobs_done.all()] == [(cast.lena, None)]


def test_a_near_miss_three_days_after_a_renewal_suspends_until_the_refresher_is_done(cast, ines) -> None:
    """29 CFR 1910.178(l)(4)(ii): refresher after an accident or near miss, whatever the calendar says."""
    issue_certificate(
        ines, "apply", valid_from=AT.date(), evidence="test and practical", confirmation=make.confirmation(cast.greta)
    )
    later = AT + timedelta(days=3)
    trigger = tell_trigger(
        ines, "near-miss", skill_code="apply", reason="hand near a nip at crawl", by=cast.hanna, at=later
    )
    assert trigger.suspends
    running = [each.acts.last().kind for each in ines.certificates.filter(skill__code="apply")]
    assert running == ["suspended", "suspended"]
    with pytest.raises(Refused) as refusal:
        reinstate(ines.certificates.filter(skill__code="apply")[0], reason="we need her", by=cast.hanna, at=later)
    assert refusal.value.code == "refresher-open"
    answer_refresher(trigger, evidence="lockout drill, sheet 4", by=cast.greta, at=later + timedelta(hours=4))
    assert {each.acts.last().kind for each in ines.certificates.filter(skill__code="apply")} == {"reinstated"}
    assert not Due.objects.filter(person=ines, kind=Due.Kind.REFRESHER, closed_at=None).exists()


def test_the_first_failed_check_is_noted_and_the_second_within_90_days_suspends(cast, ines) -> None:
    first = tell_trigger(ines, "failed-check", skill_code="apply", reason="tail led", by=cast.lena, at=AT)
    assert (first.asks, first.suspends) == (False, False)
    again = tell_trigger(ines, "failed-check", skill_code="apply", reason="tail led", by=cast.lena, at=AT)
    assert again == first
    second = tell_trigger(
        ines, "failed-check", skill_code="apply", reason="3 wraps of 4", by=cast.lena, at=AT + timedelta(days=60)
    )
    assert (second.asks, second.suspends) == (True, True)


def test_a_changed_method_asks_for_a_refresher_within_30_days_and_suspends_nothing(cast, ines) -> None:
    trigger = ask_refresher(ines, "apply", "changed-method", reason="butt start from now on", by=cast.dara, at=AT)
    assert (trigger.suspends, trigger.due_on) == (False, AT.date() + timedelta(days=30))
    assert Due.objects.get(trigger=trigger).due_on == trigger.due_on


def test_a_suspension_by_another_hand_stays_when_the_refresher_is_done(cast, ines) -> None:
    suspend(ines.certificates.get(skill__code="apply"), reason="under inquiry", by=cast.yuki, at=AT)
    trigger = ask_refresher(
        ines, "apply", "finding", reason="tape nobody recorded", by=cast.yuki, at=AT + timedelta(hours=1)
    )
    answer_refresher(trigger, evidence="talk and drill", by=cast.greta, at=AT + timedelta(days=1))
    assert [act.kind for act in ines.certificates.get(skill__code="apply").acts.all()] == ["suspended"]


def test_nobody_says_of_the_own_refresher_that_it_is_done(cast) -> None:
    make.plant()
    trigger = ask_refresher(cast.greta, "apply", "finding", reason="wrong count", by=cast.yuki, at=AT)
    with pytest.raises(Refused) as refusal:
        answer_refresher(trigger, evidence="read it again", by=cast.greta, at=AT)
    assert refusal.value.code == "own-refresher"


def test_an_operator_asks_nobody_for_a_refresher(cast, ines) -> None:
    with pytest.raises(Forbidden):
        ask_refresher(ines, "apply", "finding", reason="I saw it", by=cast.tomas, at=AT)


def test_a_trainer_sets_aside_what_is_not_needed_and_it_does_not_come_back(cast, ines) -> None:
    raise_dues(AT)
    due = renewals(ines)[0]
    set_aside(due, reason="works in the office now", by=cast.greta, at=AT)
    raise_dues(AT + timedelta(hours=1))
    due.refresh_from_db()
    assert due.closed_at == AT


def test_nobody_sets_aside_the_own_due(cast) -> None:
    make.plant()
    make.certificate(cast.greta, "hot", until=AT.date())
    raise_dues(AT)
    due = Due.objects.get(person=cast.greta, skill__code="hot", kind=Due.Kind.RENEWAL)
    with pytest.raises(Refused) as refusal:
        set_aside(due, reason="no more needed", by=cast.greta, at=AT)
    assert refusal.value.code == "own-due"


def test_the_clock_raises_dues_by_itself_and_two_ticks_raise_them_once(ines) -> None:
    tick(AT)
    tick(AT)
    tick(AT + timedelta(days=3))
    assert Job.objects.get(work="raise dues").state == Job.State.WAITING
    assert Job.objects.get(work="raise dues").trouble == ""
    assert len(renewals(ines)) == 1


def test_the_clock_does_nothing_before_the_plant_is_set_up(db) -> None:
    tick(AT)
    assert Job.objects.get(work="raise dues").trouble == ""


def test_notes_go_out_by_e_mail_once_where_a_server_and_an_address_are_given(ines, settings) -> None:
    settings.EMAIL_HOST = "mail.invalid"
    Person.objects.filter(pk=ines.pk).update(email="ines@works.invalid")
    raise_dues(AT)
    sent = mail_notes(AT)["sent"]
    assert sent == len(mail.outbox) == Note.objects.filter(to=ines).count() > 0
    assert mail_notes(AT) == {"sent": 0, "failed": 0}
    assert "\n" not in mail.outbox[0].subject
    assert f"/training/people/{ines.pk}/" in mail.outbox[0].body


def test_without_a_mail_server_nothing_is_sent_and_nothing_is_marked_as_sent(ines, settings) -> None:
    settings.EMAIL_HOST = ""
    Person.objects.filter(pk=ines.pk).update(email="ines@works.invalid")
    raise_dues(AT)
    assert mail_notes(AT) == {"sent": 0, "failed": 0}
    assert not Note.objects.exclude(mailed_at=None).exists()

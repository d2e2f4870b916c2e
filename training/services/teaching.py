"""Classes and supervised practice: planned, held, and each person recorded by an act of its own."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from training.independence import WORK_OF, require_teacher
from training.models import Attendance, JobDone, Module, Practice, Session, Skill, WorkKind
from training.queries import standing
from training.services.telling import tell_job_done
from training.standard_skills import TEACH

STREAM = "training"
PLANNERS = (Role.TRAINER, Role.QA, Role.SUPERVISOR)
LONGEST = timedelta(hours=12)
SUPERVISED = "supervised, and answerable for the work"


@transaction.atomic
def plan_session(
    skill: Skill,
    *,
    title: str,
    starts_at: datetime,
    ends_at: datetime,
    place: str,
    trainer: Person,
    invited: Iterable[Person],
    modules: Iterable[Module] = (),
    by: Person,
    at: datetime,
) -> Session:
    """Plan a class. Whether its trainer may teach is asked for the day on which it is held."""
    require_role(by, *PLANNERS, at=at, act="Planning a class")
    people = list(invited)
    if not title.strip():
        raise Refused("no-title", "Give the class a title that tells what is taught.", field="title")
    if not timedelta(0) < ends_at - starts_at <= LONGEST:
        raise Refused("span", "A class ends after it begins and lasts at most 12 hours. Check both.", field="ends_at")
    if trainer.pk in {each.pk for each in people}:
        raise Refused("own-class", f"{trainer.name} teaches this class and cannot attend it.", field="invited")
    require_teacher(trainer, skill, max(at, starts_at))
    session = Session.objects.create(
        skill=skill,
        title=title.strip(),
        starts_at=starts_at,
        ends_at=ends_at,
        place=place.strip(),
        trainer=trainer,
        planned_by=by,
        planned_at=at,
    )
    session.invited.set(people)
    session.modules.set(modules)
    record(
        stream=STREAM,
        action="plan-class",
        subject=session,
        sentence=f"class {session.title} for {skill.name} planned with {trainer.name}",
        by=by,
        at=at,
        facts={"starts_at": starts_at, "ends_at": ends_at, "invited": [each.staff_no for each in people]},
    )
    return session


@transaction.atomic
def cancel_session(session: Session, *, reason: str, by: Person, at: datetime) -> Session:
    """Call a class off, before anybody was recorded as present."""
    require_role(by, *PLANNERS, at=at, act="Calling a class off")
    session = Session.objects.select_for_update().get(pk=session.pk)
    if session.cancelled_at is not None:
        raise Refused("cancelled", "This class is called off already.")
    if session.attendances.exists():
        raise Refused("held", "Somebody is recorded as present: the class was held. Correct the attendance instead.")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why; who was invited reads it.", field="reason")
    session.cancelled_at, session.cancelled_by, session.cancel_reason = at, by, reason.strip()[:300]
    session.save(update_fields=["cancelled_at", "cancelled_by", "cancel_reason"])
    sentence = f"class {session.title} called off"
    record(
        stream=STREAM, action="cancel-class", subject=session, sentence=sentence, by=by, at=at, reason=reason.strip()
    )
    return session


@transaction.atomic
def record_attendance(
    session: Session, person: Person, *, minutes: int, note: str, by: Person, at: datetime
) -> Attendance:
    """The trainer says of one person how long he or she was there; 0 minutes: was not there.

    It is a fact and is kept even where the trainer's own certificate had lapsed; then it does not count. Said again
    it is a correction and takes a note; the first stays readable.
    """
    session = Session.objects.select_for_update().select_related("skill", "trainer").get(pk=session.pk)
    if by.pk != session.trainer_id:
        sentence = f"{session.trainer.name} taught this class and records who was there. Ask {session.trainer.name}."
        raise Refused("not-the-trainer", sentence)
    if session.cancelled_at is not None:
        raise Refused("cancelled", "This class was called off. Plan a new one.")
    if at < session.starts_at:
        raise Refused("not-yet", "The class has not begun. Record who is there once it has.")
    if person.pk == by.pk:
        raise Refused("own-attendance", "The trainer teaches and does not attend the own class.")
    longest = int((session.ends_at - session.starts_at).total_seconds() // 60)
    if not 0 <= minutes <= longest:
        raise Refused("minutes", f"The class lasts {longest} minutes; type 0 to {longest}.", field="minutes")
    before = Attendance.objects.filter(session=session, person=person, corrected_by=None).first()
    if before is not None and before.minutes == minutes:
        return before
    if before is not None and len(note.strip()) < 5:
        sentence = f"{before.minutes} minutes are recorded for {person.name}. Say why you correct that."
        raise Refused("no-reason", sentence, field="note")
    made = Attendance.objects.create(
        session=session, person=person, minutes=minutes, note=note.strip()[:300], at=at, by=by, corrects=before
    )
    if minutes:
        subject, key = f"class {session.title}", f"session:{session.pk}"
        tell_job_done(by, WorkKind.TEACH, "", session.starts_at, subject, key=key, recorded_at=at)
    record(
        stream=STREAM,
        action="record-attendance",
        subject=session,
        sentence=f"{person.name} {'was' if minutes else 'was not'} in the class {session.title}",
        by=by,
        at=at,
        facts={"minutes": minutes, "before": before.minutes if before else None, "person": person.staff_no},
        reason=note.strip(),
    )
    return made


@transaction.atomic
def record_practice(
    person: Person,
    skill: Skill,
    *,
    kind: str,
    place: str,
    room_kind: str,
    done_at: datetime,
    outcome: str,
    note: str,
    confirmation: Confirmation,
    job: JobDone | None = None,
) -> Practice:
    """Somebody certified for the work in that room signs for what a trainee did under his or her eyes."""
    by, at = confirmation.person, confirmation.at
    person = Person.objects.select_for_update().get(pk=person.pk)
    if person.pk == by.pk:
        raise Refused("own-practice", "Nobody signs the own practice. Somebody certified who was there signs it.")
    if not person.active_at(done_at) or person.employer == Person.Employer.OUTSIDE:
        raise Refused("not-active", f"{person.name} does not belong to the plant on that day. Check day and person.")
    if done_at > at:
        raise Refused("future", "The work lies in the future. Record it when it is done.", field="done_at")
    if len(note.strip()) < 5:
        raise Refused(
            "no-note", "Say what was done and what went well or did not; it is the practice log.", field="note"
        )
    if not place.strip():
        raise Refused("no-place", "Name the roller, line or product it was done on.", field="place")
    found = standing(by, TEACH if kind == Practice.Kind.TEACHING else skill.code, room_kind, done_at)
    if not found.ok:
        raise Refused("supervisor-" + found.code, f"{found.sentence}", field="room_kind")
    if job is not None:
        _refuse_job(job, person, skill, by)
    made = Practice(
        person=person,
        skill=skill,
        kind=kind,
        place=place.strip()[:40],
        room_kind=room_kind,
        done_at=done_at,
        outcome=outcome,
        note=note.strip()[:500],
        at=at,
        by=by,
        job=job,
    )
    content = {
        "person": person.staff_no,
        "skill": skill.code,
        "kind": kind,
        "place": made.place,
        "room": room_kind,
        "done_at": done_at,
        "outcome": outcome,
        "note": made.note,
    }
    made.signature = sign(confirmation, meaning=SUPERVISED, subject=person, content=content)
    made.save(force_insert=True)
    record(
        stream=STREAM,
        action="record-practice",
        subject=person,
        sentence=f"{made.get_kind_display()} of {person.name} at {made.place}, supervised by {by.name}: "
        f"{made.get_outcome_display()}",
        by=by,
        at=at,
        facts=content | {"signature": made.signature.digest},
    )
    return made


def _refuse_job(job: JobDone, person: Person, skill: Skill, by: Person) -> None:
    fits = job.person_id == person.pk and job.kind in WORK_OF.get(skill.code, ()) and job.supervised_by_id == by.pk
    if not fits:
        raise Refused("other-job", "That job is not this person's, or somebody else stood beside it.", field="job")
    if Practice.objects.filter(job=job).exists():
        raise Refused("job-taken", "That job is in the practice log already.", field="job")


def open_jobs(person: Person, skill: Skill, by: Person) -> Sequence[JobDone]:
    """Jobs of a trainee beside this person that the practice log does not speak of yet."""
    kinds = WORK_OF.get(skill.code, ())
    rows = JobDone.objects.filter(person=person, supervised_by=by, kind__in=kinds, practice=None)
    return list(rows.order_by("-at")[:20])

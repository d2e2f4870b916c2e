"""Tests: begun with a seed, kept while ticking, handed in once, marked here and nowhere else."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Forbidden, Refused
from plant.floor.queries import plant_zone
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training import content_files
from training.independence import require_teacher
from training.models import Answer, Attempt, AttemptResult, Coaching, Drawn, Pick, Skill
from training.queries_tests import attempts_open, bank, drawn_of, open_attempt
from training.rules_tests import MINUTES_PER_QUESTION, OPTIONS, Item, MayTry, draw, is_passed
from training.sentences import moment, names

STREAM = "training"
READER, WITNESS = "questions read aloud as they stand", "answers ticked as they were given"
# A page that is handed in as time runs out is still on its way.
GRACE = timedelta(seconds=30)


def paper_of(skill: Skill) -> dict[str, int | bool]:
    """The rules of the test as an attempt keeps them."""
    return {
        "questions": skill.test_questions,
        "pass_percent": skill.test_pass_percent,
        "safety_all": skill.test_safety_all_right,
    }


@transaction.atomic
def begin_attempt(
    person: Person,
    skill: Skill,
    *,
    lang: str,
    seed: str,
    at: datetime,
    reader: Person | None = None,
    witness: Person | None = None,
) -> Attempt:
    """Draw a paper for a person. With `reader` and `witness` the questions are read aloud and both sign in the end.

    An attempt that is still open is handed back, so that a second press begins nothing new; one whose time is up is
    closed first with what was kept by then.
    """
    person = Person.objects.select_for_update().get(pk=person.pk)
    _refuse_person(person, skill, at)
    before = open_attempt(person, skill)
    if before is not None and at <= before.closes_at:
        return before
    if before is not None:
        _close(before, at, late=True)
    trial = attempts_open(person, skill, at)
    if not trial.ok:
        raise _no_try(person, skill, trial, at)
    _refuse_oral(person, reader, witness, at)
    versions = {version.pk: version for version in bank(skill.code, lang)}
    if len(versions) < skill.test_questions:
        raise Refused(
            "bank-too-small",
            f"The test of {skill.name} draws {skill.test_questions} questions and the bank has {len(versions)}. "
            f"{_trainers(at)} brings questions back or lowers the number.",
        )
    minutes = MINUTES_PER_QUESTION * skill.test_questions * (2 if reader else 1)
    attempt = Attempt.objects.create(
        person=person,
        skill=skill,
        paper=paper_of(skill),
        seed=seed,
        lang=lang,
        began_at=at,
        closes_at=at + timedelta(minutes=minutes),
        reader=reader,
        witness=witness,
    )
    items = [Item(key, version.topic, version.safety) for key, version in versions.items()]
    paper = draw(items, skill.test_questions, seed, content_files.topics().quotas.get(skill.code))
    Drawn.objects.bulk_create(
        Drawn(attempt=attempt, place=place, version=versions[key], order=order)
        for place, (key, order) in enumerate(paper, start=1)
    )
    record(
        stream=STREAM,
        action="begin-test",
        subject=attempt,
        sentence=f"{person.name} began the {skill.name} test" + (", read aloud" if reader else ""),
        by=person,
        at=at,
        facts={"seed": seed, "questions": [versions[key].question.code for key, _ in paper], "paper": attempt.paper},
    )
    return attempt


def _refuse_person(person: Person, skill: Skill, at: datetime) -> None:
    if not person.active_at(at):
        raise Refused("not-active", f"{person.name} does not belong to the plant now. Ask the system keeper.")
    if person.employer == Person.Employer.OUTSIDE:
        raise Refused("outside", f"{person.name} comes from an outside firm and earns no certificate here.")
    if not skill.test_questions:
        raise Refused("no-test", f"{skill.name} has no written test; look at the path for what it takes.")


def _refuse_oral(person: Person, reader: Person | None, witness: Person | None, at: datetime) -> None:
    if (reader is None) != (witness is None):
        raise Refused("two-for-oral", "A test read aloud takes a reader and a witness. Name both.", field="witness")
    if reader is None or witness is None:
        return
    if len({person.pk, reader.pk, witness.pk}) < 3:
        sentence = "Reader, witness and the person tested are three different people. Name somebody else."
        raise Refused("three-people", sentence, field="witness")
    for field, each in (("reader", reader), ("witness", witness)):
        if not each.active_at(at) or each.employer == Person.Employer.OUTSIDE:
            raise Refused("not-active", f"{each.name} cannot sign here now. Name somebody else.", field=field)


def _trainers(at: datetime, besides: Person | None = None) -> str:
    found = [each.name for each in people_with_role(Role.TRAINER, at=at) if each != besides]
    return f"{names(found)} (trainer)" if found else "A trainer, once there is one,"


def _no_try(person: Person, skill: Skill, trial: MayTry, at: datetime) -> Refused:
    trainers = _trainers(at, person)
    if trial.code == "back-to-modules":
        sentence = (
            f"The {skill.name} test was failed {trial.fails} times. {person.name} reads all modules of {skill.name} "
            f"again first. {trainers} helps with what was not understood."
        )
    elif trial.code == "coaching-first":
        sentence = (
            f"After two failed tries a trainer goes through the mistakes with {person.name} before the next. "
            f"Ask {trainers}; it also waits 24 hours."
        )
    else:
        opens = moment(trial.from_, plant_zone()) if trial.from_ else "later"
        sentence = f"After two failed tries the next waits 24 hours: from {opens} on. Until then ask {trainers}."
    return Refused(trial.code, sentence)


def _refuse_hand(attempt: Attempt, by: Person) -> None:
    if attempt.person_id != by.pk:
        raise Forbidden(
            "not-your-test", "This is somebody else's test. Only the person tested answers and hands it in."
        )


def _shown(picks: Mapping[int, int]) -> dict[int, int]:
    return {place: shown for place, shown in picks.items() if 0 <= shown < OPTIONS}


def _keep(attempt: Attempt, picks: Mapping[int, int], at: datetime) -> None:
    places = dict(attempt.drawn.values_list("place", "pk"))
    rows = [
        Pick(drawn_id=places[place], shown=shown, at=at) for place, shown in _shown(picks).items() if place in places
    ]
    Pick.objects.bulk_create(rows, update_conflicts=True, unique_fields=["drawn"], update_fields=["shown", "at"])


@transaction.atomic
def keep_picks(attempt: Attempt, picks: Mapping[int, int], *, by: Person, at: datetime) -> None:
    """Keep what is ticked so far: option as shown, by place of the question. No audit event: nothing is decided yet."""
    _refuse_hand(attempt, by)
    attempt = Attempt.objects.select_for_update().get(pk=attempt.pk)
    if AttemptResult.objects.filter(attempt=attempt).exists():
        raise Conflict("handed-in", "This test is handed in; nothing more can be ticked.")
    if at <= attempt.closes_at + GRACE:
        _keep(attempt, picks, at)


@transaction.atomic
def hand_in(
    attempt: Attempt,
    picks: Mapping[int, int],
    *,
    by: Person,
    at: datetime,
    reader: Confirmation | None = None,
    witness: Confirmation | None = None,
) -> AttemptResult:
    """Hand in once and mark. After the time, what was kept by then is marked and `picks` are not looked at.

    Raises
    ------
    Conflict
        Handed in before, also by a second press.
    """
    _refuse_hand(attempt, by)
    attempt = Attempt.objects.select_for_update().select_related("person", "skill").get(pk=attempt.pk)
    if AttemptResult.objects.filter(attempt=attempt).exists():
        raise Conflict("handed-in", "This test is handed in already. Its page shows the answers.")
    late = at > attempt.closes_at + GRACE
    if attempt.oral:
        for field, named, given in (("reader", attempt.reader, reader), ("witness", attempt.witness, witness)):
            if given is None or named is None or given.person.pk != named.pk:
                sentence = f"{named.name if named else 'The ' + field} signs as {field} with the own password."
                raise Refused(f"no-{field}", sentence, field=f"{field}_secret")
    if not late:
        _keep(attempt, picks, at)
    return _close(attempt, at, late=late, reader=reader, witness=witness)


def _close(
    attempt: Attempt,
    at: datetime,
    *,
    late: bool,
    reader: Confirmation | None = None,
    witness: Confirmation | None = None,
) -> AttemptResult:
    drawn = drawn_of(attempt)
    picked = dict(Pick.objects.filter(drawn__attempt=attempt).values_list("drawn", "shown"))
    marked = []
    for row in drawn:
        shown = picked.get(row.pk)
        chosen = row.order[shown] if shown is not None else None
        marked.append((row, chosen, chosen == row.version.answer))
    right = sum(good for _, _, good in marked)
    safety_wrong = sum(row.version.safety and not good for row, _, good in marked)
    passed = is_passed(
        right,
        len(marked),
        safety_wrong,
        pass_percent=attempt.paper["pass_percent"],
        safety_all=attempt.paper["safety_all"],
    )
    # A test read aloud that was left lying is marked, but nobody vouches for it.
    passed = passed and (not attempt.oral or (reader is not None and witness is not None))
    content = {
        "attempt": attempt.pk,
        "person": attempt.person.staff_no,
        "skill": attempt.skill.code,
        "answers": [[row.version.question.code, row.version.number, chosen] for row, chosen, _ in marked],
    }
    signed = [
        sign(given, meaning=meaning, subject=attempt, content=content) if given else None
        for given, meaning in ((reader, READER), (witness, WITNESS))
    ]
    result = AttemptResult.objects.create(
        attempt=attempt,
        # An attempt left lying ended when its time was up, not when somebody came back to it.
        at=attempt.closes_at if late else at,
        right=right,
        asked=len(marked),
        safety_wrong=safety_wrong,
        passed=passed,
        late=late,
        reader_signature=signed[0],
        witness_signature=signed[1],
    )
    Answer.objects.bulk_create(
        Answer(drawn=row, result=result, chosen=chosen, right=good) for row, chosen, good in marked
    )
    # How it went is for the person, the trainer and the assessor; the trail is read by others too.
    record(
        stream=STREAM,
        action="hand-in-test",
        subject=attempt,
        sentence=f"{attempt.person.name} handed in the {attempt.skill.name} test",
        by=attempt.person,
        at=at,
        facts={"late": late, "signatures": [each.digest for each in signed if each]},
    )
    return result


@transaction.atomic
def close_left_attempts(*, at: datetime) -> int:
    """Mark what nobody handed in although its time is up; returns how many. Safe to run twice."""
    left = Attempt.objects.select_for_update(of=("self",)).filter(result=None, closes_at__lt=at - GRACE)
    rows = list(left.select_related("person", "skill"))
    for attempt in rows:
        _close(attempt, at, late=True)
    return len(rows)


@transaction.atomic
def coach(person: Person, skill: Skill, *, note: str, by: Person, at: datetime) -> Coaching:
    """A trainer went through the mistakes with a person."""
    require_role(by, Role.TRAINER, at=at, act="Recording a coaching")
    if person.pk == by.pk:
        raise Refused("own-coaching", f"Nobody coaches himself or herself. Ask {_trainers(at, by)}.")
    require_teacher(by, skill, at)
    if len(note.strip()) < 5:
        raise Refused("no-note", "Say what you went through; the next trainer reads it.", field="note")
    made = Coaching.objects.create(person=person, skill=skill, by=by, at=at, note=note.strip()[:500])
    record(
        stream=STREAM,
        action="coach",
        subject=person,
        sentence=f"{by.name} coached {person.name} for {skill.name}",
        by=by,
        at=at,
        facts={"note": made.note},
    )
    return made

"""Practical assessments: begun by somebody independent, watched step by step, signed by both, some marked again."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from random import Random

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from plant.audit.services import Confirmation, keep_photo, record, sign
from plant.errors import Conflict, Forbidden, Refused
from plant.people.models import Person
from training.independence import bench, require_independent
from training.models import Assessment, CandidateSigned, Mark, Marking, Skill, StepMark, StepPhoto, Verdict, WorkKind
from training.practicals import BY_KIND, agreement, marked_again, outcome, practicals_for
from training.queries import register
from training.queries_practicals import marks_of, open_assessment
from training.sentences import names
from training.services.telling import tell_job_done

STREAM = "training"
ASSESSED, SEEN = "assessed as marked", "verdict seen by the person assessed"
AGAIN = "marked independently"
# One assessment of every so many is marked a second time.
BLOCK = 10


@transaction.atomic
def begin_assessment(
    person: Person,
    skill: Skill,
    kind: str,
    *,
    assessor: Person,
    rollers: Sequence[str],
    seed: str,
    at: datetime,
) -> Assessment:
    """Begin a practical; where it is done at a roller, the seed draws which.

    `rollers` are the codes that may be drawn. One that is open already is handed back.
    """
    person = Person.objects.select_for_update().get(pk=person.pk)
    practical = BY_KIND.get(kind)
    if practical is None or skill.code not in practical.skills:
        known = names([each.title for each in practicals_for(skill.code)]) or "none"
        raise Refused("no-practical", f"{skill.name} has no such practical. It has: {known}.", field="kind")
    if not person.active_at(at) or person.employer == Person.Employer.OUTSIDE:
        raise Refused("not-active", f"{person.name} does not belong to the plant now and is not assessed.")
    require_independent(assessor, person, skill, at)
    before = open_assessment(person, skill, kind)
    if before is not None:
        if before.assessor_id == assessor.pk:
            return before
        sentence = f"{before.assessor.name} has begun this assessment. Ask {before.assessor.name} to end it first."
        raise Refused("under-way", sentence)
    choice = sorted(set(rollers)) if practical.draws_roller else []
    if practical.draws_roller and not choice:
        sentence = "There is no roller to draw from: none that may carry tape is entered. Ask the process engineer."
        raise Refused("no-roller", sentence, field="line")
    place = Random(seed).choice(choice) if choice else ""  # noqa: S311  (must be repeatable from the stored seed)
    made = Assessment.objects.create(
        person=person,
        skill=skill,
        kind=kind,
        steps=practical.as_record(),
        assessor=assessor,
        at=at,
        seed=seed,
        drawn_from=choice,
        place=place,
    )
    record(
        stream=STREAM,
        action="begin-assessment",
        subject=made,
        sentence=f"{assessor.name} began the practical {practical.title} of {person.name} for {skill.name}"
        + (f" at {place}" if place else ""),
        by=assessor,
        at=at,
        facts={"seed": seed, "drawn_from": choice, "roller": place},
    )
    return made


def _open_for(assessment: Assessment, by: Person) -> Assessment:
    """The assessment, locked; only its assessor writes in it, and only until it is ended."""
    found = Assessment.objects.select_for_update().select_related("person", "skill", "assessor").get(pk=assessment.pk)
    if found.assessor_id != by.pk:
        raise Forbidden("not-your-assessment", f"{found.assessor.name} is the assessor here; nobody else marks it.")
    if Verdict.objects.filter(assessment=found).exists():
        raise Conflict("ended", "This assessment is ended and signed. A new one starts from the page of the person.")
    return found


@transaction.atomic
def mark_step(assessment: Assessment, step: int, mark: str, *, note: str = "", by: Person, at: datetime) -> StepMark:
    """What the assessor saw at one step. Marked again it is a correction: the last one counts, all stay."""
    found = _open_for(assessment, by)
    if not 1 <= step <= len(found.steps["steps"]):
        raise Refused("no-step", f"There is no step {step}; this practical has {len(found.steps['steps'])}.")
    if mark not in Mark.values:
        raise Refused("no-mark", "Choose done, not done or not seen.", field="mark")
    made = StepMark.objects.create(assessment=found, step=step, mark=mark, note=note.strip()[:300], at=at, by=by)
    record(
        stream=STREAM,
        action="mark-step",
        subject=found,
        sentence=f"step {step} marked",
        by=by,
        at=at,
        facts={"step": step, "mark": mark, "note": made.note},
    )
    return made


@transaction.atomic
def add_step_photo(assessment: Assessment, step: int, upload: UploadedFile, *, by: Person, at: datetime) -> StepPhoto:
    """A photograph of a step: type looked at, at most 10 MB, kept under its digest."""
    found = _open_for(assessment, by)
    if not 1 <= step <= len(found.steps["steps"]):
        raise Refused("no-step", f"There is no step {step}; this practical has {len(found.steps['steps'])}.")
    kept = keep_photo(upload, by=by, at=at, purpose=f"practical {found.pk}, step {step}")
    return StepPhoto.objects.create(assessment=found, step=step, attachment=kept)


@transaction.atomic
def end_assessment(assessment: Assessment, *, note: str = "", confirmation: Confirmation) -> Verdict:
    """The assessor signs what was marked. Passed takes every critical step and enough of all."""
    by, at = confirmation.person, confirmation.at
    found = _open_for(assessment, by)
    # Who came to teach the person, or lost a certificate, while the assessment ran may not end it either.
    require_independent(by, found.person, found.skill, at)
    marks = marks_of(found)
    result = outcome(found.steps, marks)
    if result.unmarked:
        steps = ", ".join(str(step) for step in result.unmarked)
        raise Refused("unmarked", f"Steps {steps} are not marked. Mark each; what you did not see is *not seen*.")
    return _end(found, Verdict.Outcome.PASSED if result.passed else Verdict.Outcome.NOT_YET, note, confirmation, marks)


@transaction.atomic
def break_off(assessment: Assessment, *, reason: str, confirmation: Confirmation) -> Verdict:
    """End an assessment that could not go on: danger, a stopped line, a person unwell. It counts for nothing."""
    found = _open_for(assessment, confirmation.person)
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why it was broken off; it is no failure of the person.", field="reason")
    return _end(found, Verdict.Outcome.BROKEN_OFF, reason, confirmation, marks_of(found))


def _end(found: Assessment, how: str, note: str, confirmation: Confirmation, marks: Mapping[int, str]) -> Verdict:
    by, at = confirmation.person, confirmation.at
    result = outcome(found.steps, marks)
    content = content_of_verdict(found, how, marks, note)
    signature = sign(confirmation, meaning=ASSESSED, subject=found, content=content)
    verdict = Verdict.objects.create(
        assessment=found,
        outcome=how,
        done=result.done,
        missed=result.missed,
        note=note.strip()[:500],
        at=at,
        signature=signature,
        second_due=how != Verdict.Outcome.BROKEN_OFF and _drawn_again(found),
    )
    if how != Verdict.Outcome.BROKEN_OFF:
        subject = f"practical {found.steps['title']} of {found.person.name}"
        tell_job_done(by, WorkKind.ASSESS, "", at, subject, key=f"assessment:{found.pk}")
    record(
        stream=STREAM,
        action="end-assessment",
        subject=found,
        sentence=f"{by.name} ended and signed the practical of {found.person.name} for {found.skill.name}",
        by=by,
        at=at,
        facts=content | {"signature": signature.digest, "second_marking": verdict.second_due},
    )
    return verdict


def content_of_verdict(found: Assessment, how: str, marks: Mapping[int, str], note: str) -> dict[str, object]:
    """What assessor and candidate sign."""
    photos = found.photos.select_related("attachment").order_by("pk")
    return {
        "person": [found.person.staff_no, found.person.name],
        "skill": found.skill.code,
        "practical": found.kind,
        "roller": found.place,
        "marks": [[step, marks[step]] for step in sorted(marks)],
        "photos": [[photo.step, photo.attachment.digest] for photo in photos],
        "outcome": how,
        "note": note.strip()[:500],
    }


def _drawn_again(found: Assessment) -> bool:
    """Whether this one is marked a second time."""
    ended = Verdict.objects.exclude(outcome=Verdict.Outcome.BROKEN_OFF).order_by("pk")
    place = ended.count() % BLOCK
    block = list(ended.values_list("second_due", flat=True).reverse()[:place])
    return marked_again(found.seed, place, BLOCK, any(block))


@transaction.atomic
def candidate_signs(verdict: Verdict, *, remark: str = "", confirmation: Confirmation) -> CandidateSigned:
    """The person assessed has seen the verdict; a remark may disagree. Only then does it count."""
    by, at = confirmation.person, confirmation.at
    verdict = (
        Verdict.objects.select_for_update().select_related("assessment__person", "assessment__skill").get(pk=verdict.pk)
    )
    found = verdict.assessment
    if by.pk != found.person_id:
        raise Forbidden("not-the-candidate", f"{found.person.name} signs here, with the own password, and nobody else.")
    if CandidateSigned.objects.filter(verdict=verdict).exists():
        raise Conflict("signed", "You have signed this verdict already.")
    content = content_of_verdict(found, verdict.outcome, marks_of(found), verdict.note) | {
        "remark": remark.strip()[:500]
    }
    signature = sign(confirmation, meaning=SEEN, subject=found, content=content)
    made = CandidateSigned.objects.create(verdict=verdict, remark=remark.strip()[:500], at=at, signature=signature)
    record(
        stream=STREAM,
        action="sign-verdict",
        subject=found,
        sentence=f"{by.name} has seen the verdict of the practical for {found.skill.name}",
        by=by,
        at=at,
        facts={"remark": made.remark, "signature": signature.digest},
    )
    return made


def _refuse_level(by: Person, skill: Skill, at: datetime) -> None:
    trouble = register([by], at).skill_trouble(by, skill.code)
    if trouble is not None:
        sentence = f"Who marks beside an assessor holds {skill.name} as well. {trouble.sentence}"
        raise Refused("level-" + trouble.code, sentence)


@transaction.atomic
def mark_again(assessment: Assessment, kind: str, marks: Mapping[int, str], *, confirmation: Confirmation) -> Marking:
    """Another assessor marks the same steps: beside the first one (joint) or later from the evidence (second)."""
    by, at = confirmation.person, confirmation.at
    found = Assessment.objects.select_for_update().select_related("person", "skill", "assessor").get(pk=assessment.pk)
    verdict = Verdict.objects.filter(assessment=found).first()
    if verdict is None or verdict.outcome == Verdict.Outcome.BROKEN_OFF:
        raise Refused("not-ended", "The assessment is not ended yet. Mark it once the first assessor has signed.")
    if by.pk in (found.assessor_id, found.person_id):
        others = [each.name for each in bench(found.person, found.skill, at).able() if each.pk != found.assessor_id]
        who = f"{names(others)} may." if others else "Ask QA to book an outside assessor."
        raise Refused("same-assessor", f"Somebody else than the first assessor and the person marks again. {who}")
    if kind == Marking.Kind.SECOND:
        require_independent(by, found.person, found.skill, at)
    else:
        _refuse_level(by, found.skill, at)
    if Marking.objects.filter(assessment=found, by=by).exists():
        raise Conflict("marked", "You have marked this assessment already.")
    asked = range(1, len(found.steps["steps"]) + 1)
    missing = [step for step in asked if marks.get(step) not in Mark.values]
    if missing:
        raise Refused("unmarked", f"Steps {', '.join(map(str, missing))} are not marked.")
    given = {step: marks[step] for step in asked}
    alike = agreement(marks_of(found), given)
    same = outcome(found.steps, given).passed == (verdict.outcome == Verdict.Outcome.PASSED)
    content = {"assessment": found.pk, "kind": kind, "marks": [[step, mark] for step, mark in given.items()]}
    signature = sign(confirmation, meaning=AGAIN, subject=found, content=content)
    made = Marking.objects.create(
        assessment=found,
        kind=kind,
        marks={str(step): mark for step, mark in given.items()},
        agreement=alike,
        same_outcome=same,
        at=at,
        by=by,
        signature=signature,
    )
    if kind == Marking.Kind.JOINT:
        for person in (by, found.assessor):
            key, subject = f"joint:{made.pk}:{person.pk}", f"joint marking of practical {found.pk}"
            tell_job_done(person, WorkKind.JOINT_MARKING, "", at, subject, key=key)
    record(
        stream=STREAM,
        action="mark-again",
        subject=found,
        sentence=f"{by.name} marked practical {found.pk} independently: {alike} % alike",
        by=by,
        at=at,
        facts=content | {"agreement": alike, "same_outcome": same, "signature": signature.digest},
    )
    return made

"""Laying down the module texts and questions of the files as versions that stay."""

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from training import content_files
from training.content_files import FOLDER, BadContent, ModuleText, QuestionText
from training.models import Module, ModuleVersion, Question, QuestionVersion

STREAM = "training"


def _refuse_changed(what: str, number: int, lang: str) -> BadContent:
    return BadContent(
        f"{what} version {number} ({lang}) reads differently from what was laid down. "
        "Give the new text the next version number: people have read, and answered, the old one."
    )


def _lay_modules(rows: Iterable[ModuleText], at: datetime) -> list[str]:
    known = {(each.module.number, each.number, each.lang): each.digest for each in _versions(ModuleVersion, "module")}
    modules, laid = {module.number: module for module in Module.objects.all()}, []
    for row in rows:
        digest, name = row.digest, f"Module {row.number}"
        before = known.get((row.number, row.version, row.lang))
        if before == digest:
            continue
        if before is not None:
            raise _refuse_changed(name, row.version, row.lang)
        if row.number not in modules:
            modules[row.number] = Module.objects.create(number=row.number, slug=row.slug)
        ModuleVersion.objects.create(
            module=modules[row.number],
            number=row.version,
            lang=row.lang,
            title=row.title,
            minutes=row.minutes,
            text=row.text,
            skills=row.skills,
            cautions=row.cautions,
            needs_signature=row.sign,
            digest=digest,
            laid_at=at,
        )
        laid.append(f"{name} version {row.version} ({row.lang})")
    return laid


def _lay_questions(rows: Iterable[QuestionText], at: datetime) -> list[str]:
    known = {
        (each.question.code, each.number, each.lang): each.digest for each in _versions(QuestionVersion, "question")
    }
    bank, laid = {question.code: question for question in Question.objects.all()}, []
    for row in rows:
        digest, name = row.digest, f"Question {row.code}"
        before = known.get((row.code, row.version, row.lang))
        if before == digest:
            continue
        if before is not None:
            raise _refuse_changed(name, row.version, row.lang)
        if row.code not in bank:
            bank[row.code] = Question.objects.create(code=row.code)
        QuestionVersion.objects.create(
            question=bank[row.code],
            number=row.version,
            lang=row.lang,
            topic=row.topic,
            safety=row.safety,
            text=row.text,
            options=row.options,
            answer=row.answer,
            why=row.why,
            skills=row.skills,
            digest=digest,
            laid_at=at,
        )
        laid.append(f"{name} version {row.version} ({row.lang})")
    return laid


def _versions(model: Any, of: str) -> Any:
    return model.objects.select_related(of).only(
        f"{of}__id", f"{of}__{'number' if of == 'module' else 'code'}", "number", "lang", "digest"
    )


@transaction.atomic
def lay_down_content(*, at: datetime, folder: Path = FOLDER) -> list[str]:
    """Take over every version of the files that is new; return what was laid down.

    Safe to run at any time and twice. It belongs to the release of the program, so nobody signs for it.

    Raises
    ------
    BadContent
        A file that cannot be read, or a text that changed without a new version number: nothing is laid down then.
    """
    laid = _lay_modules(content_files.modules(folder), at) + _lay_questions(content_files.questions(folder), at)
    if laid:
        first = ModuleVersion.objects.order_by("pk").first() or QuestionVersion.objects.order_by("pk").first()
        assert first is not None  # noqa: S101  (something was just laid down)
        record(
            stream=STREAM,
            action="lay-down-content",
            subject=first,
            sentence=f"{len(laid)} texts and questions of the courses laid down",
            by=None,
            at=at,
            facts={"versions": laid},
        )
    return laid


@transaction.atomic
def retire_question(question: Question, *, reason: str, by: Person, at: datetime) -> Question:
    """Draw a question no more. It stays, with every answer that was given to it."""
    require_role(by, Role.TRAINER, Role.QA, at=at, act="Retiring a question")
    question = Question.objects.select_for_update().get(pk=question.pk)
    if question.retired_at is not None:
        raise Refused("retired", f"Question {question.code} is retired already. Nothing is left to do.")
    if len(reason.strip()) < 5:
        raise Refused(
            "no-reason", "Say why it is retired; who reads the statistics later wants to know.", field="reason"
        )
    question.retired_at, question.retired_by, question.retired_reason = at, by, reason.strip()
    question.save(update_fields=["retired_at", "retired_by", "retired_reason"])
    record(
        stream=STREAM,
        action="retire-question",
        subject=question,
        sentence=f"question {question.code} retired",
        by=by,
        at=at,
        reason=reason.strip(),
    )
    return question

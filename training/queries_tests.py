"""Reads about tests: the bank, attempts, and whether a person may try."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from plant.people.models import Person
from training.content_files import ENGLISH
from training.independence import cycle_start
from training.item_statistics import ItemFigures, item_figures
from training.models import Answer, Attempt, AttemptResult, Coaching, Drawn, Question, QuestionVersion, Skill
from training.queries_modules import read_since
from training.rules_tests import ROUND, MayTry, Past, may_try


def bank(skill_code: str, lang: str) -> list[QuestionVersion]:
    """The questions that a test may draw: newest version each, in the wished language where it has that version."""
    rows: dict[int, list[QuestionVersion]] = defaultdict(list)
    for version in QuestionVersion.objects.filter(question__retired_at=None).select_related("question"):
        rows[version.question_id].append(version)
    found = []
    for versions in rows.values():
        newest = max(each.number for each in versions)
        texts = {each.lang: each for each in versions if each.number == newest}
        version = texts.get(lang) or texts.get(ENGLISH) or next(iter(texts.values()))
        if skill_code in version.skills:
            found.append(version)
    return sorted(found, key=lambda version: version.question.code)


def attempts_of(person: Person) -> QuerySet[Attempt]:
    """Every attempt of a person, the newest first."""
    return Attempt.objects.filter(person=person).select_related("skill", "result", "reader", "witness")


def open_attempt(person: Person, skill: Skill) -> Attempt | None:
    """The attempt that was begun and not handed in."""
    return attempts_of(person).filter(skill=skill, result=None).first()


def attempts_open(person: Person, skill: Skill, at: datetime) -> MayTry:
    """May this person begin the test of this skill now?"""
    since = cycle_start(person, skill, at)
    results = AttemptResult.objects.filter(attempt__person=person, attempt__skill=skill)
    coached = Coaching.objects.filter(person=person, skill=skill)
    if since is not None:
        results, coached = results.filter(at__gte=since), coached.filter(at__gte=since)
    past = [Past(each.at, each.passed) for each in results]
    fails = [each.at for each in past if not each.passed]
    reread = read_since(person, skill.code, max(fails)) if len(fails) >= ROUND else None
    return may_try(past, coached_at=[each.at for each in coached], reread_at=reread, at=at)


@dataclass(frozen=True)
class Sheet:
    """A question of an open attempt as its page shows it: nothing that tells which option is right."""

    place: int
    text: str
    lang: str
    options: list[tuple[int, str]]
    picked: int | None


def sheet_of(attempt: Attempt) -> list[Sheet]:
    """The questions of an open attempt, with the options in the drawn order and what is ticked so far."""
    rows = attempt.drawn.select_related("version", "pick").defer("version__answer", "version__why").order_by("place")
    return [
        Sheet(
            place=row.place,
            text=row.version.text,
            lang=row.version.lang,
            options=[(shown, row.version.options[index]) for shown, index in enumerate(row.order)],
            picked=row.pick.shown if hasattr(row, "pick") else None,
        )
        for row in rows
    ]


@dataclass(frozen=True)
class OwnAnswer:
    """A marked question as the person sees it afterwards."""

    place: int
    text: str
    lang: str
    safety: bool
    chosen: str
    right: bool
    right_option: str
    why: str


def answers_of(attempt: Attempt) -> list[OwnAnswer]:
    """What was answered, with the right option and why."""
    rows = Answer.objects.filter(drawn__attempt=attempt).select_related("drawn__version").order_by("drawn__place")
    return [
        OwnAnswer(
            place=row.drawn.place,
            text=row.drawn.version.text,
            lang=row.drawn.version.lang,
            safety=row.drawn.version.safety,
            chosen="" if row.chosen is None else row.drawn.version.options[row.chosen],
            right=row.right,
            right_option=row.drawn.version.options[row.drawn.version.answer],
            why=row.drawn.version.why,
        )
        for row in rows
    ]


@dataclass(frozen=True)
class BankRow:
    """A question of the bank with its figures."""

    question: Question
    version: QuestionVersion
    figures: ItemFigures


def bank_rows(*, minimum_lang: str = ENGLISH) -> list[BankRow]:
    """Every question ever asked or laid down, with the statistics of its newest version over all languages."""
    newest: dict[int, QuestionVersion] = {}
    for version in QuestionVersion.objects.select_related("question").order_by("number"):
        before = newest.get(version.question_id)
        if before is None or version.number > before.number or version.lang == minimum_lang:
            newest[version.question_id] = version
    given: dict[tuple[int, int], list[tuple[bool, float]]] = defaultdict(list)
    answers = Answer.objects.select_related("drawn__version", "result").only(
        "right", "drawn__version__question_id", "drawn__version__number", "result__right", "result__asked"
    )
    for answer in answers:
        others = answer.result.asked - 1
        rest = (answer.result.right - answer.right) / others if others else 0.0
        given[answer.drawn.version.question_id, answer.drawn.version.number].append((answer.right, rest))
    rows = []
    for key, version in newest.items():
        pairs = given[key, version.number]
        figures = item_figures([right for right, _ in pairs], [rest for _, rest in pairs])
        rows.append(BankRow(version.question, version, figures))
    return sorted(rows, key=lambda row: row.question.code)


def drawn_of(attempt: Attempt) -> list[Drawn]:
    """The drawn questions with their key: for marking only."""
    return list(attempt.drawn.select_related("version").order_by("place"))

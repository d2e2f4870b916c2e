"""A small course for the tests: modules, a bank of questions, and the acts of learning in short words."""

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from plant.people.models import Person
from tests import make
from training.models import (
    Assessment,
    Attempt,
    AttemptResult,
    Drawn,
    Module,
    ModuleVersion,
    Practice,
    Question,
    QuestionVersion,
    Session,
    Skill,
    Verdict,
)
from training.practicals import BY_KIND
from training.services.assessing import begin_assessment, candidate_signs, end_assessment, mark_step
from training.services.content import lay_down_content
from training.services.reading import read_module
from training.services.teaching import plan_session, record_attendance, record_practice
from training.services.testing import begin_attempt, hand_in

AT = make.AT
SKILLS = '["aware", "apply", "check", "size", "food", "medical"]'
TOPICS = ("causes", "taping", "pieces", "safety")
ROLLERS = ["A05", "A06", "A08", "B09"]


def module_file(
    number: int, version: int = 1, text: str = "Web edges run faster.", more: str = "", lang: str = "en"
) -> str:
    return (
        f'+++\nnumber = {number}\ntitle = "Module {number} {lang}"\nversion = {version}\nminutes = 10\n'
        f'skills = {SKILLS}\ncautions = ["Lock out first."]\n{more}+++\n## Heading\n\n{text}\n'
    )


def question(code: str, topic: str, answer: int = 1, version: int = 1, lang: str = "en") -> str:
    safety = str(topic == "safety").lower()
    options = ", ".join(f'"{code} option {n} {lang}"' for n in range(4))
    return (
        f'[[question]]\ncode = "{code}"\nversion = {version}\ntopic = "{topic}"\nsafety = {safety}\n'
        f'text = "Question {code} {lang}?"\noptions = [{options}]\nanswer = {answer}\n'
        f'why = "Because of {code}."\nskills = {SKILLS}\n\n'
    )


def folder(path: Path, *, modules: int = 3, questions: int = 32, langs: tuple[str, ...] = ("en",)) -> Path:
    """The files of a small course."""
    for lang in langs:
        (path / lang / "modules").mkdir(parents=True, exist_ok=True)
        for n in range(1, modules + 1):
            (path / lang / "modules" / f"{n:02d}-part.md").write_text(module_file(n, lang=lang))
        rows = [question(f"q{n:02d}", TOPICS[n % 4], answer=n % 4, lang=lang) for n in range(1, questions + 1)]
        (path / lang / "questions.toml").write_text("".join(rows))
    return path


def lay_down(path: Path, **more: Any) -> Path:
    lay_down_content(at=make.LONG_AGO, folder=folder(path, **more))
    return path


def skill(code: str) -> Skill:
    return Skill.objects.get(code=code)


def read_all(person: Person, code: str, at: datetime = AT) -> None:
    for version in ModuleVersion.objects.filter(lang="en"):
        if code in version.skills:
            read_module(version, opened_at=at - timedelta(minutes=5), by=person, at=at)


def key(row: Drawn) -> int:
    """Where the right option stands on the page; only the tests look it up this way."""
    return row.order.index(row.version.answer)


def answers(attempt: Attempt, wrong: int = 0, *, wrong_safety: bool = False) -> dict[int, int]:
    """Ticks for a paper, so many of them wrong: ordinary questions first, or the safety ones."""
    rows = list(attempt.drawn.select_related("version").order_by("place"))
    rows.sort(key=lambda row: row.version.safety != wrong_safety)
    return {row.place: (key(row) + (n < wrong)) % 4 for n, row in enumerate(rows)}


def sit_test(person: Person, code: str, at: datetime = AT, *, wrong: int = 0, seed: str = "seed") -> AttemptResult:
    attempt = begin_attempt(person, skill(code), lang="en", seed=f"{seed}{at.isoformat()}", at=at)
    return hand_in(attempt, answers(attempt, wrong), by=person, at=at + timedelta(minutes=5))


def teach(trainer: Person, person: Person, code: str, at: datetime, minutes: int = 180) -> Session:
    session = plan_session(
        skill(code),
        title=f"Class {code}",
        starts_at=at,
        ends_at=at + timedelta(minutes=minutes),
        place="Training room",
        trainer=trainer,
        invited=[person],
        by=trainer,
        at=at - timedelta(days=1),
    )
    record_attendance(session, person, minutes=minutes, note="", by=trainer, at=at + timedelta(minutes=minutes))
    return session


def practise(by: Person, person: Person, code: str, at: datetime, **more: Any) -> Practice:
    given = {"kind": "job", "place": "A05", "room_kind": "general", "outcome": "well", "note": "Wound well"} | more
    return record_practice(person, skill(code), done_at=at, confirmation=make.confirmation(by, at), **given)


def begin(
    assessor: Person, person: Person, code: str, at: datetime = AT, kind: str = "taping", seed: str = "s"
) -> Assessment:
    return begin_assessment(person, skill(code), kind, assessor=assessor, rollers=ROLLERS, seed=seed, at=at)


def assess(
    assessor: Person,
    person: Person,
    code: str,
    at: datetime = AT,
    kind: str = "taping",
    not_done: tuple[int, ...] = (),
    sign: bool = True,
) -> Verdict:
    made = begin(assessor, person, code, at, kind, seed=f"{person.pk}{at.isoformat()}")
    for step in range(1, len(BY_KIND[kind].steps) + 1):
        mark_step(made, step, "not-done" if step in not_done else "done", by=assessor, at=at)
    verdict = end_assessment(made, confirmation=make.confirmation(assessor, at))
    if sign:
        candidate_signs(verdict, confirmation=make.confirmation(person, at))
    return verdict


def learning_rows(person: Person, assessor: Person, trainer: Person, at: datetime) -> dict[str, int]:
    """One of each of the rows of learning, straight into the database, for tests of the doors."""
    more = {"lang": "en", "number": 1, "digest": "0" * 64, "laid_at": at, "skills": ["aware", "apply"]}
    module = Module.objects.create(number=1, slug="part")
    ModuleVersion.objects.create(module=module, title="Part", minutes=5, text="Text\n", cautions=[], **more)
    Question.objects.create(code="q01").versions.create(
        topic="causes", safety=False, text="Q?", options=["a", "b", "c", "d"], answer=1, why="So.", **more
    )
    paper = {"questions": 1, "pass_percent": 80, "safety_all": False}
    attempt = Attempt.objects.create(
        person=person,
        skill=skill("aware"),
        paper=paper,
        seed="x",
        lang="en",
        began_at=at,
        closes_at=at + timedelta(hours=1),
    )
    attempt.drawn.create(place=1, version=QuestionVersion.objects.get(), order=[0, 1, 2, 3])
    AttemptResult.objects.create(attempt=attempt, at=at, right=1, asked=1, safety_wrong=0, passed=True)
    session = Session.objects.create(
        skill=skill("apply"),
        title="Class",
        starts_at=at,
        ends_at=at + timedelta(hours=1),
        place="Here",
        trainer=trainer,
        planned_by=trainer,
        planned_at=at,
    )
    practical = Assessment.objects.create(
        person=person,
        skill=skill("apply"),
        kind="taping",
        steps=BY_KIND["taping"].as_record(),
        assessor=assessor,
        at=at,
        seed="x",
        drawn_from=["A05"],
        place="A05",
    )
    return {"attempt": attempt.pk, "session": session.pk, "practical": practical.pk}

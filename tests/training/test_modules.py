"""Modules: laid down once per version, read and understood by version, and what changed since."""

from datetime import timedelta

import pytest

from plant.audit.models import Event
from plant.errors import Conflict, Refused
from tests import make
from tests.training import lessons
from training.content_files import BadContent, module_text
from training.models import Module, ModuleVersion, Question, QuestionVersion, Reading
from training.queries_modules import changes_between, current_version, modules_now, read_since
from training.services.content import lay_down_content, retire_question
from training.services.reading import read_module

AT = make.AT


@pytest.fixture(autouse=True)
def works(db):
    make.plant()


def file_of(folder, number=1, lang="en"):
    return folder / lang / "modules" / f"{number:02d}-part.md"


def test_content_is_laid_down_once_however_often_it_is_asked_for(tmp_path):
    folder = lessons.folder(tmp_path, modules=3, questions=4)
    assert len(lay_down_content(at=AT, folder=folder)) == 7
    assert lay_down_content(at=AT, folder=folder) == []
    assert (Module.objects.count(), ModuleVersion.objects.count(), QuestionVersion.objects.count()) == (3, 3, 4)
    assert Event.objects.filter(action="lay-down-content").count() == 1


@pytest.mark.parametrize("what", ["module", "question"])
def test_a_text_that_changed_without_a_new_version_number_is_an_error_and_lays_nothing_down(tmp_path, what):
    folder = lessons.lay_down(tmp_path)
    changed = file_of(folder) if what == "module" else folder / "en" / "questions.toml"
    changed.write_text(changed.read_text().replace("faster", "slower").replace("Question q01", "Another q01"))
    file_of(folder, 2).write_text(lessons.module_file(2, version=2))
    with pytest.raises(BadContent, match=r"version 1 \(en\) reads differently"):
        lay_down_content(at=AT, folder=folder)
    assert not ModuleVersion.objects.filter(number=2).exists()


def test_a_changed_answer_alone_is_a_changed_question(tmp_path):
    folder = lessons.lay_down(tmp_path)
    bank = folder / "en" / "questions.toml"
    bank.write_text(bank.read_text().replace("answer = 1", "answer = 2", 1))
    with pytest.raises(BadContent, match="Question q01"):
        lay_down_content(at=AT, folder=folder)


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("minutes = 10", 'minutes = "ten"', "minutes is missing or not of type int"),
        ("version = 1", "", "version is missing"),
        ("+++\nnumber", "number", "does not begin"),
        ("number = 1", "number = = 1", "is no TOML"),
    ],
)
def test_a_file_that_cannot_be_used_is_named_with_its_field(tmp_path, before, after, says):
    path = file_of(lessons.folder(tmp_path))
    path.write_text(path.read_text().replace(before, after, 1))
    with pytest.raises(BadContent, match=says) as trouble:
        module_text(path, "en")
    assert "01-part.md" in str(trouble.value)


def test_reading_is_kept_with_its_version_and_stands_once(cast, tmp_path):
    lessons.lay_down(tmp_path)
    version = ModuleVersion.objects.get(module__number=1)
    first = read_module(version, opened_at=AT - timedelta(minutes=9), by=cast.ines, at=AT)
    assert read_module(version, opened_at=AT, by=cast.ines, at=AT + timedelta(hours=1)).pk == first.pk
    assert Reading.objects.count() == 1
    assert [row.read for row in modules_now(cast.ines)] == [True, False, False]


def test_a_new_version_asks_to_be_read_and_the_old_one_is_read_no_more(cast, tmp_path):
    folder = lessons.lay_down(tmp_path)
    old = ModuleVersion.objects.get(module__number=1)
    lessons.read_all(cast.ines, "apply")
    assert read_since(cast.ines, "apply", None) == AT
    file_of(folder).write_text(
        lessons.module_file(1, version=2, text="Web edges run faster.\n\nThe centre may go slack.")
    )
    lay_down_content(at=AT, folder=folder)
    row = modules_now(cast.ines)[0]
    assert (row.read, row.changed, row.version.number) == (False, True, 2)
    assert read_since(cast.ines, "apply", None) is None
    with pytest.raises(Conflict, match="newer version"):
        read_module(old, opened_at=AT, by=cast.mei, at=AT)
    changed = [(each.kind, each.text) for each in changes_between(old, row.version)]
    assert ("added", "The centre may go slack.") in changed
    assert not any(kind == "removed" for kind, _ in changed)


def test_a_person_reads_the_own_language_where_the_newest_version_has_it_and_else_english(cast, tmp_path):
    folder = lessons.lay_down(tmp_path, langs=("en", "de"))
    module = Module.objects.get(number=1)
    assert current_version(module, "de").title == "Module 1 de"
    assert current_version(module, "fr").lang == "en"
    file_of(folder).write_text(lessons.module_file(1, version=2))
    lay_down_content(at=AT, folder=folder)
    newest = current_version(module, "de")
    assert (newest.lang, newest.number) == ("en", 2)


def test_a_module_that_is_signed_takes_the_own_secret(cast, tmp_path):
    folder = lessons.folder(tmp_path)
    file_of(folder).write_text(lessons.module_file(1, more="sign = true\n"))
    lay_down_content(at=AT, folder=folder)
    version = ModuleVersion.objects.get(module__number=1)
    for given in (None, make.confirmation(cast.mei)):
        with pytest.raises(Refused) as refused:
            read_module(version, opened_at=AT, by=cast.ines, at=AT, confirmation=given)
        assert refused.value.code == "sign-it"
    reading = read_module(version, opened_at=AT, by=cast.ines, at=AT, confirmation=make.confirmation(cast.ines))
    assert reading.signature.printed_name == "Ines Varga"


def test_a_question_is_retired_by_trainer_or_qa_with_a_reason_and_once(cast, tmp_path):
    lessons.lay_down(tmp_path)
    question = Question.objects.first()
    for by, reason, code in ((cast.ines, "too easy", "wrong-role"), (cast.greta, "", "no-reason")):
        with pytest.raises(Refused) as refused:
            retire_question(question, reason=reason, by=by, at=AT)
        assert refused.value.code == code
    retire_question(question, reason="too easy", by=cast.greta, at=AT)
    with pytest.raises(Refused) as refused:
        retire_question(question, reason="too easy", by=cast.yuki, at=AT)
    assert refused.value.code == "retired"

"""A person who reads German learns in German: path, modules, test and own certificates."""

import re

import pytest
from django.urls import reverse

from plant.people.services import choose_language
from plant.web import clock
from tests import make
from tests.plant.test_language import known
from tests.training import lessons
from training import forms_learning
from training.models import Attempt, Due, Practice, Reading, Trigger, WorkKind
from training.practicals import PRACTICALS
from training.services.content import lay_down_content

pytestmark = pytest.mark.django_db
AT = make.AT


@pytest.fixture(autouse=True)
def course(db, monkeypatch):
    make.plant()
    monkeypatch.setattr(clock, "now", lambda: AT)
    lay_down_content(at=make.LONG_AGO)


@pytest.fixture
def german(cast, signed_in):
    return signed_in(choose_language(cast.ines, "de", at=AT))


def read(client, name, *args):
    answer = client.get(reverse(f"training:{name}", args=args))
    assert answer.status_code == 200 and answer["Content-Language"] == "de", name
    text = answer.content.decode()
    assert '<html lang="de">' in text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def test_path_modules_and_certificates_are_said_in_german(german, cast):
    path = read(german, "path")
    assert "Mein Weg" in path and "Lerneinheiten gelesen und verstanden" in path and "Read module" not in path
    assert "Lernen" in path and "Abmelden" in path
    modules = read(german, "modules")
    assert "0 von 16 in der neuesten Fassung gelesen" in modules and "Die Linie abgehen" in modules
    assert "Etwa" in read(german, "module", 3)
    own = read(german, "person", cast.ines.pk)
    assert "Was als Nächstes kommt" in own and "gültig" in own and "Letzter Tag, bis Mitternacht" in own


def test_the_module_on_hazards_is_signed_in_german_and_stays_unread_without_the_password(german, cast):
    page = read(german, "module", 13)
    assert "Gefahren an Walzen und Band" in page and "Dein Passwort noch einmal" in page
    address = reverse("training:module", args=[13])
    version = re.search(r'name="version" value="(\d+)"', german.get(address).content.decode())[1]
    for secret in ("", "wrong"):
        answer = german.post(address, {"version": version, "secret": secret})
        assert answer.status_code == 422 and not Reading.objects.exists()
    answer = german.post(address, {"version": version, "secret": make.SECRET}, follow=True)
    assert "Festgehalten: Du hast Lerneinheit 13" in answer.content.decode()
    reading = Reading.objects.get()
    assert (reading.version.lang, reading.signature.person) == ("de", cast.ines)
    assert reading.signature.meaning == "read and understood"


def test_a_test_is_begun_ticked_and_handed_in_in_german(german):
    assert "Test beginnen" in read(german, "begin-test", "aware")
    german.post(reverse("training:begin-test", args=["aware"]))
    attempt = Attempt.objects.get()
    assert attempt.lang == "de"
    assert "Abgeben" in read(german, "test", attempt.pk)
    picks = {f"q{place}": pick for place, pick in lessons.answers(attempt).items()}
    kept = german.post(reverse("training:keep-picks", args=[attempt.pk]), picks, headers={"HX-Request": "true"})
    assert kept.content.decode() == "10 von 10 beantwortet und behalten"
    german.post(reverse("training:test", args=[attempt.pk]), picks)
    assert "bestanden" in read(german, "test", attempt.pk)


def test_everybody_else_learns_in_english(cast, signed_in):
    for name in ("path", "modules"):
        page = signed_in(cast.hanna).get(reverse(f"training:{name}"))
        assert '<html lang="en-GB">' in page.content.decode() and "Modules" in page.content.decode()


def test_words_that_python_hands_to_these_pages_are_there_in_german():
    said = [*(practical.title for practical in PRACTICALS), "Supervised jobs", "Shadow checks", "Sizing cases"]
    said += [words for kind in (Practice.Kind, Practice.Outcome, WorkKind, Trigger.Kind) for words in kind.labels]
    said += [words for words in Due.Kind.labels if not words.startswith("assessment by")]
    for shape in (forms_learning.Oral, forms_learning.OralSigned, forms_learning.Signed):
        for field in shape.base_fields.values():
            said += [str(field.label), str(field.help_text)]
    assert not [words for words in said if not known(str(words))]

"""The language of the shop floor: who is signed in is spoken to in the own language; the desk speaks English."""

import gettext
import inspect
import os
import re
from pathlib import Path

import pytest
import time_machine
from django import forms
from django.test import Client
from django.urls import reverse
from django.utils import translation

from plant.audit.models import Event
from plant.floor.models import Position
from plant.people.language import language_of
from plant.people.models import Person, Role
from plant.people.services import choose_language
from plant.web.templatetags import ui
from rollers.cases import TypedBand
from rollers.causes.models.sighting import Direction, Grade, Lane
from rollers.forms import tablet as shapes
from rollers.forms import tablet_jobs as steps
from rollers.models import Band
from rollers.rules_application import LOCKOUT, RESTART
from rollers.services.approving import approve_recipe, check_recipe
from rollers.services.recipes import draft_recipe
from rollers.services.sheets import draft_sheet, sign_sheet
from rollers.tablet_job import STEPS, TRACKS
from rollers.views.tablet import ACT_WORDS
from rollers.views.tablet_acts import ACTS
from tests import make

ROOT = Path(__file__).resolve().parents[2]
GERMAN = ROOT / "locale" / "de" / "LC_MESSAGES"
LEARNING = [
    *("path", "skill_path", "modules", "module", "module_changes", "test_begin", "test_oral", "test", "test_result"),
    *("person", "_view", "_way", "_attempts", "_practicals", "_certificates"),
]
TEMPLATES = [
    *sorted((ROOT / "templates" / "rollers" / "tablet").glob("*.html")),
    ROOT / "templates" / "causes" / "tablet" / "report.html",
    ROOT / "templates" / "base_tablet.html",
    ROOT / "templates" / "base.html",
    *(ROOT / "templates" / "training" / f"{name}.html" for name in LEARNING),
    *(
        ROOT / "templates" / "ui" / f"{name}.html"
        for name in ("blocks", "field", "form_errors", "hand_choice", "quantity")
    ),
]
# Read the same in both languages.
SAME = {"Start", ""}
# Sizes and keys of marks, which nobody reads.
MARKS = {"large", "plate", "not-evaluated", "fits", "refused", "caution", "notice", "do"}


@pytest.fixture
def german(cast):
    """Ines, who reads German."""
    return choose_language(cast.ines, "de", at=make.AT)


@pytest.fixture(autouse=True)
def at_the_fixed_time():
    with time_machine.travel(make.AT, tick=False):
        yield


def catalog():
    with (GERMAN / "django.mo").open("rb") as file:
        return gettext.GNUTranslations(file)._catalog


def known(english):
    words = catalog()
    return english in SAME or english in words or (english, 0) in words


def literals(path):
    """What a template asks to be translated: literals of `translate`, of the shared tags, and of `blocktranslate`."""
    text = path.read_text(encoding="utf-8")
    yield from re.findall(r'{% translate "([^"]+)"', text)
    yield from re.findall(r'\|default:"([^"]+)" %}', text)
    for tag in re.findall(r"{% (?:hazard|empty|blocks|verdict|state) [^%]*%}", text):
        yield from (words for words in re.findall(r'"([^"]+)"', tag) if words not in MARKS)
    for body in re.findall(r"{% blocktranslate[^%]*%}(.*?){% endblocktranslate %}", text, re.DOTALL):
        # The plural is kept under its singular.
        yield re.sub(r"{{ (\w+) }}", r"%(\1)s", body.split("{% plural %}")[0])


def pairs_of(path):
    """msgid and msgstr of a .po file, plural forms one by one as the .mo keeps them."""
    found, block = {}, {}
    for line in [*path.read_text(encoding="utf-8").splitlines(), ""]:
        if match := re.fullmatch(r'(msgid|msgid_plural|msgstr(?:\[\d\])?) "(.*)"', line):
            block[match[1]] = last = match[1]
            block[last] = match[2]
        elif match := re.fullmatch(r'"(.*)"', line):
            block[last] += match[1]
        elif block:
            said = {key: words.replace('\\"', '"').replace("\\n", "\n") for key, words in block.items()}
            plural = {(said["msgid"], int(key[7])): words for key, words in said.items() if key.startswith("msgstr[")}
            found |= plural or {said["msgid"]: said["msgstr"]}
            block = {}
    return found


@pytest.mark.django_db
def test_who_reads_german_is_spoken_to_in_german_at_the_roller(signed_in, german):
    make.plant()
    make.line("A")
    answer = signed_in(german).get(reverse("tablet:lines"))
    text = answer.content.decode()
    assert '<html lang="de">' in text and answer["Content-Language"] == "de"
    assert "Welche Linie?" in text and "Abmelden" in text and "Which line?" not in text


@pytest.mark.django_db
def test_everybody_else_reads_english_whatever_the_browser_wishes(signed_in, cast):
    make.plant()
    answer = signed_in(cast.dara).get(reverse("tablet:lines"), HTTP_ACCEPT_LANGUAGE="de-AT,de;q=0.9")
    assert '<html lang="en-gb">' in answer.content.decode() and answer["Content-Language"] == "en-gb"
    assert "Which line?" in answer.content.decode()


@pytest.mark.django_db
def test_the_desk_speaks_english_to_everybody_and_says_so(signed_in, german):
    make.plant()
    answer = signed_in(german).get(reverse("people:me"))
    assert '<html lang="en-GB">' in answer.content.decode() and answer["Content-Language"] == "en-gb"
    assert "Your secrets" in answer.content.decode()


@pytest.mark.django_db
def test_the_language_of_one_request_does_not_reach_the_next(signed_in, cast, german):
    make.plant()
    first, second = signed_in(german), signed_in(cast.dara)
    for _ in range(2):
        assert "Welche Linie?" in first.get(reverse("tablet:lines")).content.decode()
        assert "Which line?" in second.get(reverse("tablet:lines")).content.decode()
    assert translation.get_language() == "en-gb"


@pytest.mark.django_db
def test_one_tap_at_the_tablet_changes_the_language_and_comes_back_to_the_page(signed_in, cast):
    make.plant()
    client, here = signed_in(cast.ines), reverse("tablet:lines")
    assert ">Deutsch</button>" in client.get(here).content.decode()
    answer = client.post(reverse("people:language"), {"language": "de", "next": here})
    assert (answer.status_code, answer["Location"]) == (302, here)
    assert ">English</button>" in client.get(here).content.decode()
    event = Event.objects.get(action="choose-language")
    assert event.sentence == "Ines Varga chose Deutsch for the shop floor" and event.actor == cast.ines


@pytest.mark.django_db
def test_choosing_the_same_language_again_writes_nothing(cast):
    choose_language(cast.ines, "en-gb", at=make.AT)
    assert not Event.objects.filter(action="choose-language").exists()


@pytest.mark.django_db
def test_choosing_a_language_never_leads_to_another_site(signed_in, cast):
    for elsewhere in ("https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"):
        answer = signed_in(cast.ines).post(reverse("people:language"), {"language": "de", "next": elsewhere})
        assert answer["Location"] == reverse("people:me")


@pytest.mark.django_db
def test_a_language_that_the_screens_do_not_speak_is_refused_with_those_they_do(signed_in, cast):
    answer = signed_in(cast.ines).post(reverse("people:language"), {"language": "xx"})
    assert answer.status_code in (409, 422) and "Deutsch" in answer.content.decode()
    assert Person.objects.get(pk=cast.ines.pk).language == "en-gb"


@pytest.mark.django_db
def test_nobody_chooses_without_signing_in():
    assert Client().post(reverse("people:language"), {"language": "de"}).status_code == 302
    assert not Event.objects.filter(action="choose-language").exists()


@pytest.mark.parametrize(
    ("kept", "spoken"),
    [("de", "de"), ("de-AT", "de"), ("DE", "de"), ("en-gb", "en-gb"), ("fi", "en-gb"), ("", "en-gb")],
)
def test_a_language_is_read_as_the_nearest_one_that_is_spoken(kept, spoken):
    assert language_of(Person(language=kept)) == spoken


def test_nobody_is_spoken_to_in_english():
    assert language_of(object()) == "en-gb"


def test_numbers_read_the_same_in_both_languages():
    shown = set()
    for language in ("en-gb", "de"):
        with translation.override(language):
            shown.add(
                (str(ui.num(1515.25, "mm")), str(ui.num(0.56, "mm")), forms.FloatField().widget.format_value(0.56))
            )
    assert len(shown) == 1


def test_hazards_are_said_in_german_and_keep_their_colour():
    with translation.override("de"):
        said = ui.hazard("CAUTION", "Clean the face.")
    assert said["word"] == "VORSICHT" and said["signal"] == "CAUTION" and said["tone"] == "caution"
    assert said["text"] == "Den Mantel reinigen."


def test_labels_and_options_of_a_form_are_said_in_german_and_send_the_same_values():
    with translation.override("de"):
        bound = shapes.CheckForm()["tail_trails"]
        parts = ui.field(bound)
    assert parts["label"] == "Das äußere Bandende" and "läuft nach" in parts["input"]
    assert 'value="yes"' in parts["input"] and 'value="no"' in parts["input"]
    assert "trails: it points back" in ui.field(shapes.CheckForm()["tail_trails"])["input"]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_word_that_a_page_of_the_shop_floor_asks_for_is_there_in_german(path):
    assert not [words for words in literals(path) if not known(words)]


def forms_of(module):
    return [one for _, one in inspect.getmembers(module, inspect.isclass) if issubclass(one, forms.Form)]


@pytest.mark.parametrize("shape", [*forms_of(shapes), *forms_of(steps)], ids=lambda shape: shape.__name__)
def test_every_label_help_and_option_typed_at_a_roller_is_there_in_german(shape):
    for field in shape.base_fields.values():
        asked = [
            str(field.label or ""),
            str(field.help_text),
            *(str(words) for _, words in getattr(field, "choices", ())),
        ]
        assert not [words for words in asked if not known(words)]


def test_the_labels_that_forms_make_for_ends_and_lanes_are_there_in_german():
    form = steps.MeasureForm(ends=["drive", "operator"])
    assert all(known(str(field.label)) for field in form.fields.values())


def test_the_steps_of_a_job_its_acts_and_the_lockout_are_there_in_german():
    said = [*TRACKS.values(), *ACT_WORDS.values(), *(act.title for act in ACTS.values())]
    said += [title for row in STEPS.values() for _, title in row] + [words for _, words in (*LOCKOUT, *RESTART)]
    said += [words for kind in (Grade, Lane, Direction, Role, Position.Kind, Band.End) for words in kind.labels]
    assert not [words for words in said if not known(str(words))]


def test_the_compiled_words_are_those_of_the_readable_file():
    """After a change: msgfmt -o django.mo django.po in locale/de/LC_MESSAGES, or `manage.py compilemessages`."""
    readable, compiled = pairs_of(GERMAN / "django.po"), catalog()
    assert {key: words for key, words in readable.items() if key != ""} == {
        key: words for key, words in compiled.items() if key != ""
    }


def test_german_keeps_the_placeholders_of_the_english_sentence():
    for english, german in pairs_of(GERMAN / "django.po").items():
        source = english[0] if isinstance(english, tuple) else english
        if source:
            assert german.strip(), source
            assert set(re.findall(r"%\(\w+\)s", german)) == set(re.findall(r"%\(\w+\)s", source))


@pytest.fixture
def a05(cast):
    """A05 bare, with SF-17 assigned four wraps at both ends."""
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    position = make.position("A05", path=path, room=room)
    product = make.product(
        "SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35
    ).product
    make.shift(cast.ines, cast.dara, cast.hanna)
    version = draft_recipe(
        step=path.steps.get(),
        title="stretch",
        products=[product],
        stock=make.stock("T1"),
        bands=[TypedBand("operator", 600, 792, 4), TypedBand("drive", 600, 792, 4)],
        by=cast.dara,
        at=make.AT,
    )
    check_recipe(version, reasons={}, confirmation=make.confirmation(cast.dara))
    approve_recipe(version, meaning="approved", confirmation=make.confirmation(cast.hanna))
    sheet = draft_sheet(product=product, path=path, choices={position: version}, by=cast.hanna, at=make.AT)
    sign_sheet(sheet, confirmation=make.confirmation(cast.hanna))
    return position


def words_on(answer):
    """What a reader sees, without the parts that are marked as English and without the drawing."""
    text = re.sub(r"<svg.*?</svg>|<head>.*?</head>", " ", answer.content.decode(), flags=re.DOTALL)
    text = re.sub(r'<(\w+)[^>]*\blang="en"[^>]*>.*?</\1>', " ", text, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


ENGLISH = re.compile(r"\b(?:the|and|of|with|is|are|your|not|from|must|off|where)\b")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "args", "said"),
    [
        ("roller", ["A05"], "Du darfst diese Walze bekleben"),
        ("job", ["A05", "apply"], "Zuerst sperren, Schritt für Schritt."),
        ("act", ["A05", "found"], "Drauf lassen. Melden."),
        ("act", ["A05", "report"], "Was wurde getan?"),
        ("line", ["A"], "sperrt es."),
    ],
)
def test_a_page_at_the_roller_speaks_german_and_marks_what_is_still_english(signed_in, german, a05, name, args, said):
    answer = signed_in(german).get(reverse(f"tablet:{name}", args=args), {"product": "SF-17"})
    assert answer.status_code == 200
    shown = words_on(answer)
    assert said in shown
    assert not ENGLISH.findall(shown), shown
    if os.environ.get("KEEP_PAGES"):
        (Path(os.environ["KEEP_PAGES"]) / f"{name}-{args[-1]}.html").write_bytes(answer.content)

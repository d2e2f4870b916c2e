"""The training text: modules that parse and teach, fair questions, quotas that can be met, two languages."""

import re
import statistics
import tomllib
from collections import Counter
from pathlib import Path

import pytest

from training.drawings import names
from training.standard_skills import STANDARD_SKILLS

CONTENT = Path(__file__).resolve().parents[2] / "training" / "content"
LANGUAGES = ("en", "de")
SKILLS = {skill.code for skill in STANDARD_SKILLS}
TOPICS = tomllib.loads((CONTENT / "topics.toml").read_text(encoding="utf-8"))
QUESTIONS_IN_A_TEST = {"aware": 10, "apply": 20, "check": 15, "size": 25, "food": 10, "medical": 10}
MODULES = sorted(path for lang in LANGUAGES for path in (CONTENT / lang / "modules").glob("*.md"))
# Where hands move, a caution stands in the text before the step, not only above the page.
HANDS = {4, 6, 7, 8, 9, 10, 11, 13, 16}
PICTURE = re.compile(r"!\[([^\]]*)\]\(drawing:([a-z0-9-]+)\)")
NOT_HERE = re.compile(r"todo|lorem|placeholder|transcript|/work|/tmp|https?://|www\.", re.IGNORECASE)
# Words a learner should not have to look up, and what to write in their place.
HARD_WORDS = re.compile(
    r"\b(utilis|facilitat|prior to|in order to|commence|terminate|aforementioned|leverag|paradigm|holistic|synerg)",
    re.IGNORECASE,
)


def front_and_body(path):
    _, front, body = path.read_text(encoding="utf-8").split("+++", 2)
    return tomllib.loads(front), body


def module(lang, number):
    (path,) = (CONTENT / lang / "modules").glob(f"{number:02d}-*.md")
    return front_and_body(path)


def questions(lang):
    return tomllib.loads((CONTENT / lang / "questions.toml").read_text(encoding="utf-8"))["question"]


def sentences(body):
    """The running text as sentences: headings, tables, pictures and formulas are not read aloud."""
    text = PICTURE.sub("", body)
    found = []
    for block in re.split(r"\n\s*\n", text):
        for item in re.split(r"\n(?=- |\d+\. |[|#>])", block.strip()):
            plain = re.sub(r"[*_]", "", re.sub(r"^(> |- |\d+\. )", "", item.strip()).replace("\n> ", " "))
            if not plain or plain.startswith(("#", "|")) or " = " in plain:
                continue
            found += [part for part in re.split(r"(?<=[.!?:;])\s+", plain.replace("\n", " ")) if re.search(r"\w", part)]
    return found


def name_of(path):
    return f"{path.parts[-3]}-{path.stem}"


every_module = pytest.mark.parametrize("path", MODULES, ids=name_of)
every_language = pytest.mark.parametrize("lang", LANGUAGES)


def test_there_are_sixteen_modules_in_english_numbered_without_a_gap():
    assert [front_and_body(path)[0]["number"] for path in sorted((CONTENT / "en" / "modules").glob("*.md"))] == list(
        range(1, 17)
    )


@every_module
def test_the_front_of_a_module_says_all_that_the_application_asks(path):
    front, _ = front_and_body(path)
    assert set(front) - {"sign"} == {"number", "title", "version", "minutes", "skills", "cautions"}
    assert path.name.startswith(f"{front['number']:02d}-")
    assert front["title"] and front["version"] >= 1 and 5 <= front["minutes"] <= 300
    assert front["skills"] and set(front["skills"]) <= SKILLS
    assert len(front["cautions"]) >= 2
    assert all(10 < len(caution) <= 140 and caution.endswith(".") for caution in front["cautions"])


@every_module
def test_a_module_is_long_enough_to_teach_and_short_enough_to_read(path):
    words = len(re.findall(r"\w+", front_and_body(path)[1]))
    assert 500 <= words <= 1250


@every_module
def test_a_module_begins_with_why_and_ends_with_questions_to_oneself(path):
    headings = re.findall(r"^## (.+)$", front_and_body(path)[1], re.MULTILINE)
    assert headings[0] in ("Why this matters", "Warum das wichtig ist")
    assert headings[-1] in ("Check yourself", "Prüfe dich selbst")
    last = front_and_body(path)[1].rsplit("## ", 1)[1]
    assert last.count("\n- ") >= 3 and last.count("?") >= 3


@every_module
def test_headings_start_at_the_second_level_so_that_the_page_keeps_its_own_title(path):
    assert not re.search(r"^# ", front_and_body(path)[1], re.MULTILINE)


@every_module
def test_a_caution_stands_in_the_text_before_hands_move(path):
    front, body = front_and_body(path)
    if front["number"] in HANDS:
        assert re.search(r"^> \*\*(Caution|Vorsicht)\.\*\*", body, re.MULTILINE), path.name


@every_module
def test_where_a_roller_is_touched_lockout_and_the_plants_own_procedure_are_named(path):
    front, body = front_and_body(path)
    if front["number"] in {6, 10, 13}:
        text = (" ".join(front["cautions"]) + body).lower()
        assert re.search(r"lock|sperr", text)
        assert re.search(r"plant's (lockout )?procedure|anweisung deines werks", text)
        assert re.search(r"zero energy|try to start|startversuch", text)


@every_module
def test_every_picture_of_a_module_is_drawn_and_has_words_for_those_who_do_not_see_it(path):
    _, body = front_and_body(path)
    assert body.count("](drawing:") == len(PICTURE.findall(body))
    for words, name in PICTURE.findall(body):
        assert name in names(), name
        assert len(words) >= 5


def test_every_drawing_is_used_in_a_module():
    used = {name for path in MODULES for _, name in PICTURE.findall(front_and_body(path)[1])}
    assert set(names()) == used


@every_module
def test_sentences_are_short_enough_for_a_new_operator(path):
    lengths = [len(sentence.split()) for sentence in sentences(front_and_body(path)[1])]
    assert len(lengths) > 20
    assert statistics.mean(lengths) <= 20
    assert max(lengths) <= 40


@every_module
def test_a_module_holds_no_leftovers_no_addresses_and_no_office_words(path):
    text = path.read_text(encoding="utf-8")
    assert not NOT_HERE.search(text)
    assert not HARD_WORDS.search(text)


@every_module
def test_sides_are_named_by_their_ends_and_never_left_or_right_alone(path):
    body = PICTURE.sub("", front_and_body(path)[1])
    found = re.findall(r"\b(?:left|right|links|rechts) (?:end|side|edge|band|Seite|Ende|Kante)\b", body)
    assert not found


@every_module
def test_numbers_of_length_carry_a_unit_with_a_space(path):
    assert not re.search(r"\d(mm|µm|m/min|N/m|°C|MPa)\b", front_and_body(path)[1])


def test_german_modules_are_the_same_modules():
    """Number, version, minutes, skills, pictures and the figures in the tables agree with the English page."""
    for path in sorted((CONTENT / "de" / "modules").glob("*.md")):
        german, body = front_and_body(path)
        english, original = module("en", german["number"])
        for key in ("number", "version", "minutes", "skills", "sign"):
            assert german.get(key) == english.get(key), (path.name, key)
        assert len(german["cautions"]) == len(english["cautions"])
        assert [n for _, n in PICTURE.findall(body)] == [n for _, n in PICTURE.findall(original)], path.name
        assert figures(body) == figures(original), path.name
        assert body.count("**Vorsicht.**") == original.count("**Caution.**")
        assert len(re.findall(r"^## ", body, re.MULTILINE)) == len(re.findall(r"^## ", original, re.MULTILINE))


@pytest.mark.parametrize("lang", ["en", "de"])
def test_the_module_on_hazards_is_signed_with_the_own_password_and_no_other_is(lang):
    fronts = [front_and_body(path)[0] for path in sorted((CONTENT / lang / "modules").glob("*.md"))]
    assert [front["number"] for front in fronts if front.get("sign")] == [13]


def figures(body):
    return Counter(re.findall(r"\d+(?:\.\d+)?(?=\s+(?:mm|µm|m/min|N/m|°C|MPa|%|min|m)\b)", body))


def test_every_module_on_the_path_of_an_operator_is_there_in_german():
    there = {front_and_body(path)[0]["number"] for path in (CONTENT / "de" / "modules").glob("*.md")}
    for path in (CONTENT / "en" / "modules").glob("*.md"):
        front, _ = front_and_body(path)
        if {"aware", "apply", "check"} & set(front["skills"]):
            assert front["number"] in there, front["title"]


@every_language
def test_the_bank_holds_forty_questions_with_codes_of_their_own(lang):
    assert [one["code"] for one in questions(lang)] == [f"q{number:02d}" for number in range(1, 41)]


@every_language
def test_every_question_has_four_different_options_and_exactly_one_answer(lang):
    for one in questions(lang):
        assert set(one) == {"code", "version", "topic", "safety", "text", "options", "answer", "why", "skills"}
        assert len(one["options"]) == 4 and len({option.casefold() for option in one["options"]}) == 4, one["code"]
        assert one["answer"] in range(4)
        assert all(option.strip() == option and option for option in one["options"])


@every_language
def test_every_question_is_explained_and_belongs_to_topics_and_skills_that_exist(lang):
    topics = {topic["code"] for topic in TOPICS["topic"]}
    for one in questions(lang):
        assert one["topic"] in topics
        assert one["skills"] and set(one["skills"]) <= SKILLS
        assert 40 <= len(one["why"]) <= 320, one["code"]
        assert isinstance(one["safety"], bool)
        assert not NOT_HERE.search(one["text"] + one["why"] + " ".join(one["options"]))


@every_language
def test_the_right_answer_gives_itself_away_neither_by_its_place_nor_by_its_length(lang):
    bank = questions(lang)
    assert all(8 <= count <= 12 for count in Counter(one["answer"] for one in bank).values())
    for one in bank:
        lengths = [len(option) for option in one["options"]]
        assert max(lengths) <= 1.7 * min(lengths), one["code"]
    longest = sum(len(one["options"][one["answer"]]) == max(map(len, one["options"])) for one in bank)
    assert longest <= 16


def test_german_questions_have_the_same_codes_answers_topics_and_skills():
    english = {one["code"]: one for one in questions("en")}
    for one in questions("de"):
        for key in ("version", "topic", "safety", "answer", "skills"):
            assert one[key] == english[one["code"]][key], (one["code"], key)
        same = re.findall(r"\d+(?:\.\d+)?", " ".join(one["options"]))
        assert same == re.findall(r"\d+(?:\.\d+)?", " ".join(english[one["code"]]["options"])), one["code"]


@pytest.mark.parametrize("skill", sorted(QUESTIONS_IN_A_TEST))
def test_the_quotas_of_a_level_can_be_met(skill):
    quotas = TOPICS["quotas"][skill]
    pool = Counter(one["topic"] for one in questions("en") if skill in one["skills"])
    assert sum(quotas.values()) == QUESTIONS_IN_A_TEST[skill]
    assert all(pool[topic] >= wanted for topic, wanted in quotas.items())
    assert sum(pool.values()) > QUESTIONS_IN_A_TEST[skill]


def test_only_levels_with_a_written_test_have_quotas():
    assert set(TOPICS["quotas"]) == set(QUESTIONS_IN_A_TEST)


def test_every_test_of_the_hands_asks_every_question_on_reaching_for_a_roller():
    pool = [one for one in questions("en") if one["topic"] == "safety" and "apply" in one["skills"]]
    assert TOPICS["quotas"]["apply"]["safety"] == len(pool)
    assert all(one["safety"] for one in pool)


def test_topics_have_a_name_in_every_language_and_some_question():
    used = {one["topic"] for one in questions("en")}
    for topic in TOPICS["topic"]:
        assert all(topic[lang] for lang in LANGUAGES)
        assert topic["code"] in used


def test_what_a_test_may_ask_is_taught_before():
    """The key words of each question stand in a module of its skill, or of one that the skill builds on."""
    builds_on = {skill.code: set(skill.needs) for skill in STANDARD_SKILLS}
    taught = {}
    for path in (CONTENT / "en" / "modules").glob("*.md"):
        front, body = front_and_body(path)
        for skill in front["skills"]:
            taught[skill] = taught.get(skill, "") + body.lower()
    keys = {
        "causes": ("upstream", "roller that shows it", "align"),
        "spreading": ("grip", "slack", "towards the taped end"),
        "sizing": ("stretch", "radius"),
        "taping": ("trail",),
        "line": ("crawl", "bare"),
        "pieces": ("count", "hold"),
        "people": ("certificate",),
        "safety": ("lock", "residue"),
    }
    for skill in QUESTIONS_IN_A_TEST:
        circle, todo = set(), [skill]
        while todo:
            one = todo.pop()
            circle.add(one)
            todo += builds_on[one] - circle
        text = " ".join(taught.get(one, "") for one in circle)
        for topic in TOPICS["quotas"][skill]:
            missing = [word for word in keys[topic] if word not in text]
            assert not missing, (skill, topic, missing)


def test_the_worked_numbers_of_the_pages_are_those_of_the_mechanics():
    """Step, stretch and ratio of the examples, worked out here once more from T, E, h, t and r."""
    stretch = {name: t / (e * 1e6 * h * 1e-6) * 100 for name, t, e, h in PRODUCTS}
    assert round(stretch["SF-17"], 2) == 2.45 and round(stretch["BO-20"], 2) == 0.30
    assert round(stretch["CP-70"], 3) == 0.055
    for name, wraps, t_mm, r_mm, share, ratio in EXAMPLES:
        step = wraps * t_mm / r_mm * 100
        assert round(1 + (1 - share) * step / stretch[name], 2) == ratio, name
    _, reading = module("en", 5)
    assert "2.45 %" in reading and "0.055 %" in reading and "1.24" in reading and "2.40" in reading


PRODUCTS = (("SF-17", 50, 120, 17), ("BO-20", 120, 2000, 20), ("CP-70", 230, 6000, 70), ("ML-62", 110, 1030, 62))
EXAMPLES = (
    ("SF-17", 4, 0.14, 60, 0.20, 1.30),
    ("BO-20", 1, 0.09, 100, 0.20, 1.24),
    ("BO-20", 2, 0.09, 100, 0.20, 1.48),
    ("CP-70", 1, 0.09, 100, 220 / 1500, 2.40),
    ("ML-62", 1, 0.09, 75, 0.20, 1.56),
)

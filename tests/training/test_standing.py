"""May this person do this, here, now; if not, each reason has its own code and says who can help."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from plant.errors import Forbidden
from plant.people.models import Person
from tests import make
from training.access import require_skill
from training.models import CertificateAct
from training.queries import is_certified, standing, who_may

AT = make.AT
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def vienna(db: None) -> None:
    make.plant()


def act(person: Person, skill: str, kind: str, by: Person, at: datetime = AT, reason: str = "left a tail") -> None:
    certificate = person.certificates.get(skill__code=skill)
    CertificateAct.objects.create(certificate=certificate, kind=kind, at=at, by=by, reason=reason)


def test_a_certified_operator_may_apply_in_a_general_room_and_the_certificate_is_named(cast) -> None:
    found = standing(cast.ines, "apply", "general", AT)
    assert (found.ok, found.code) == (True, "ok")
    assert found.certificate == cast.ines.certificates.get(skill__code="apply")
    assert found.add_on is None
    assert "31 December 2026" in found.sentence


def test_a_food_room_takes_the_food_add_on_and_a_medical_room_the_medical_one(cast) -> None:
    answers = {
        (name, room): is_certified(getattr(cast, name), "apply", room, AT)
        for name in ("ines", "tomas", "mei", "yuki")
        for room in ("general", "food", "medical")
    }
    able = {key for key, ok in answers.items() if ok}
    assert able == {
        ("ines", "general"),
        *(("tomas", room) for room in ("general", "food")),
        *(("mei", room) for room in ("general", "medical")),
        *(("yuki", room) for room in ("general", "food", "medical")),
    }
    found = standing(cast.tomas, "apply", "food", AT)
    assert found.add_on == cast.tomas.certificates.get(skill__code="food")


def test_the_add_on_that_ends_first_sets_the_end_that_is_told(cast) -> None:
    other = make.person("Tilda Roos", "operator", skills="aware apply")
    make.certificate(other, "food", until=date(2026, 4, 1))
    assert "1 April 2026" in standing(other, "apply", "food", AT).sentence


def test_a_hot_roller_takes_its_own_add_on(cast) -> None:
    assert is_certified(cast.kwame, "apply", "general", AT, hot=True)
    found = standing(cast.ines, "apply", "general", AT, hot=True)
    assert found.code == "add-on-missing"
    assert "Hot roller add-on" in found.sentence


def test_sizing_is_desk_work_and_takes_no_room_add_on_and_gives_no_right_to_apply(cast) -> None:
    assert is_certified(cast.dara, "size", "medical", AT)
    desk_only = make.person("Nils Ferro", "engineer", skills="aware size")
    assert is_certified(desk_only, "size", "general", AT)
    assert standing(desk_only, "apply", "general", AT).code == "never-certified"


def test_the_role_of_supervisor_alone_gives_no_right_to_apply(cast) -> None:
    assert standing(cast.hanna, "apply", "general", AT).code == "never-certified"


def refusals(cast) -> dict[str, tuple[Person, str]]:
    """One person for every reason, with the room asked for."""
    greta = cast.greta
    coming = make.person("Ada Coming", "operator", skills="aware")
    make.certificate(coming, "apply", since=date(2026, 4, 1))
    suspended = make.person("Bo Paused", "operator", skills="aware apply")
    act(suspended, "apply", "suspended", greta, AT - timedelta(hours=1), "two failed checks")
    withdrawn = make.person("Cy Undone", "operator", skills="aware apply")
    act(withdrawn, "apply", "withdrawn", greta, AT - timedelta(days=1), "false record")
    lapsed_add_on = make.person("Di Late", "operator", skills="aware apply")
    make.certificate(lapsed_add_on, "medical", until=date(2026, 3, 1))
    paused_add_on = make.person("Ed Drill", "operator", skills="aware apply medical")
    act(paused_add_on, "medical", "suspended", greta, AT - timedelta(hours=2), "missed the piece drill")
    undone_add_on = make.person("Fi Gown", "operator", skills="aware apply medical")
    act(undone_add_on, "medical", "withdrawn", greta, AT - timedelta(hours=2), "gowning refused")
    coming_add_on = make.person("Gil Soon", "operator", skills="aware apply")
    make.certificate(coming_add_on, "medical", since=date(2026, 5, 1))
    end = datetime(2026, 3, 31, 22, 0, tzinfo=UTC)
    guest = make.person("Hal Visitor", "guest", skills="aware apply", employer="outside", active_to=end)
    left = make.person("Ivo Gone", "operator", skills="aware apply", active_to=AT - timedelta(days=2))
    joins = make.person("Jo New", "operator", skills="aware apply", active_from=AT + timedelta(days=2))
    return {
        "never-certified": (cast.hanna, "general"),
        "not-yet-valid": (coming, "general"),
        "lapsed": (make.person("Kim Ended", "operator", skills="aware apply", until=date(2026, 3, 24)), "general"),
        "suspended": (suspended, "general"),
        "withdrawn": (withdrawn, "general"),
        "add-on-missing": (cast.ines, "medical"),
        "add-on-lapsed": (lapsed_add_on, "medical"),
        "add-on-suspended": (paused_add_on, "medical"),
        "add-on-withdrawn": (undone_add_on, "medical"),
        "add-on-not-yet-valid": (coming_add_on, "medical"),
        "outside": (guest, "general"),
        "left": (left, "general"),
        "not-joined": (joins, "general"),
    }


SAID = {
    "never-certified": "has never been certified for Apply",
    "not-yet-valid": "begins on 1 April 2026",
    "lapsed": "lapsed at the end of 24 March 2026",
    "suspended": "is suspended since 25 March 2026 09:00 (UTC+0100) by Greta Munro: two failed checks.",
    "withdrawn": "was withdrawn on 24 March 2026 10:00 (UTC+0100) by Greta Munro: false record.",
    "add-on-missing": "a medical room also takes the Medical room add-on, which Ines Varga has never held",
    "add-on-lapsed": "Medical room certificate",
    "add-on-suspended": "missed the piece drill",
    "add-on-withdrawn": "gowning refused",
    "add-on-not-yet-valid": "begins on 1 May 2026",
    "outside": "guest's access",
    "left": "left the plant on 23 March 2026",
    "not-joined": "joins the plant on 27 March 2026",
}


def test_every_reason_has_its_own_code_and_its_own_sentence_that_names_who_on_this_shift_may(cast) -> None:
    make.shift(cast.lena, cast.hanna)
    found = {code: standing(who, "apply", room, AT) for code, (who, room) in refusals(cast).items()}
    assert {code: each.code for code, each in found.items()} == {code: code for code in SAID}
    assert not any(each.ok for each in found.values())
    for code, each in found.items():
        assert SAID[code] in each.sentence
        assert each.sentence.endswith("On this shift Lena Oduya may do it.")
    assert len({each.sentence for each in found.values()}) == len(SAID)


def test_when_nobody_on_shift_may_the_sentence_names_the_supervisor_on_shift_and_the_trainer(cast) -> None:
    make.shift(cast.hanna)
    assert cast.babak and cast.greta
    sentence = standing(cast.ines, "check", "general", AT).sentence
    assert "Nobody on this shift may do it. Ask Hanna Lindqvist (shift supervisor)" in sentence
    assert "Greta Munro (trainer)" in sentence
    assert "Babak" not in sentence


def test_when_no_shift_is_entered_and_no_roles_are_given_the_sentence_still_says_whom_to_ask(cast) -> None:
    assert "Ask the shift supervisor to call in" in standing(cast.ines, "check", "general", AT).sentence


def test_a_person_who_may_not_is_never_named_as_the_one_who_can_help(cast) -> None:
    make.shift(cast.rui, cast.ines)
    sentence = standing(cast.rui, "apply", "general", datetime(2026, 3, 26, 9, 0, tzinfo=UTC)).sentence
    assert "Nobody on this shift" in sentence  # that shift is over
    make.shift(cast.rui, cast.ines, name="Next", starts=datetime(2026, 3, 26, 5, 0, tzinfo=UTC))
    sentence = standing(cast.rui, "apply", "general", datetime(2026, 3, 26, 9, 0, tzinfo=UTC)).sentence
    assert sentence.endswith("On this shift Ines Varga may do it.")


@pytest.mark.db_both
@pytest.mark.parametrize(
    ("last", "last_second"),
    [
        (date(2026, 3, 25), datetime(2026, 3, 25, 22, 59, 59, tzinfo=UTC)),
        (date(2026, 3, 29), datetime(2026, 3, 29, 21, 59, 59, tzinfo=UTC)),
        (date(2026, 10, 25), datetime(2026, 10, 25, 22, 59, 59, tzinfo=UTC)),
    ],
)
def test_apply_lapses_at_midnight_plant_time_also_when_the_clocks_change(cast, last, last_second) -> None:
    rui = make.person("Rui Second", "operator", skills="aware apply", until=last)
    assert is_certified(rui, "apply", "general", last_second)
    found = standing(rui, "apply", "general", last_second + timedelta(seconds=1))
    assert found.code == "lapsed"
    assert f"{last.day} {last:%B %Y}" in found.sentence


def test_a_leaver_may_nothing_from_the_leave_time_on_and_everything_before(cast) -> None:
    leaver = make.person("Ivo Gone", "operator", skills="aware apply", active_to=AT)
    assert is_certified(leaver, "apply", "general", AT - timedelta(microseconds=1))
    assert standing(leaver, "apply", "general", AT).code == "left"


def test_suspending_apply_suspends_check_and_the_add_ons_built_on_it_at_once(cast) -> None:
    yuki = cast.yuki
    before = AT - timedelta(microseconds=1)
    assert is_certified(yuki, "check", "medical", before)
    act(yuki, "apply", "suspended", cast.greta)
    for skill, room in (("apply", "general"), ("check", "general"), ("check", "food"), ("apply", "medical")):
        found = standing(yuki, skill, room, AT)
        assert found.code == "suspended", (skill, room)
        assert found.certificate == yuki.certificates.get(skill__code="apply")
    assert "Check counts only beside a valid Apply certificate." in standing(yuki, "check", "food", AT).sentence
    for add_on in ("food", "medical"):
        assert standing(yuki, add_on, "general", AT).code == "suspended"
    assert is_certified(yuki, "aware", "general", AT)


def test_suspending_check_leaves_apply_alone(cast) -> None:
    act(cast.lena, "check", "suspended", cast.greta)
    assert not is_certified(cast.lena, "check", "general", AT)
    assert is_certified(cast.lena, "apply", "medical", AT)


def test_a_lapsed_aware_takes_apply_and_size_with_it(cast) -> None:
    person = make.person("Uma Base", "operator")
    make.certificate(person, "aware", until=date(2026, 3, 1))
    make.certificate(person, "apply")
    make.certificate(person, "size")
    for skill in ("apply", "size"):
        found = standing(person, skill, "general", AT)
        assert (found.code, found.certificate.skill.code) == ("lapsed", "aware")


def test_reinstated_means_the_person_may_again(cast) -> None:
    act(cast.ines, "apply", "suspended", cast.greta, AT - timedelta(days=1))
    act(cast.ines, "apply", "reinstated", cast.greta)
    assert not is_certified(cast.ines, "apply", "general", AT - timedelta(minutes=1))
    assert is_certified(cast.ines, "apply", "general", AT)


def test_a_renewal_counts_and_does_not_hide_a_suspension_of_the_older_certificate(cast) -> None:
    make.certificate(cast.rui, "apply", since=date(2026, 3, 20), until=date(2027, 3, 25))
    make.certificate(cast.rui, "aware", since=date(2026, 3, 20), until=date(2027, 3, 25))
    assert is_certified(cast.rui, "apply", "general", datetime(2026, 4, 1, tzinfo=UTC))
    older = cast.rui.certificates.filter(skill__code="apply").order_by("valid_to")[0]
    CertificateAct.objects.create(certificate=older, kind="suspended", at=AT, by=cast.greta, reason="tail led")
    assert standing(cast.rui, "apply", "general", AT).code == "suspended"


def test_who_may_lists_only_certified_persons_of_the_present_shift_without_those_excluded(cast) -> None:
    make.shift(cast.yuki, cast.lena, cast.mei, cast.hanna)
    make.shift(cast.dara, name="Late", starts=AT.replace(hour=13), ends=AT.replace(hour=21))
    assert who_may("check", "medical", AT) == [cast.lena, cast.yuki]
    assert who_may("check", "medical", AT, excluding=[cast.lena]) == [cast.yuki]
    assert who_may("check", "food", AT) == [cast.yuki]
    assert who_may("check", "general", AT.replace(hour=13)) == [cast.dara]
    assert who_may("check", "general", AT.replace(hour=22)) == []


def test_a_shift_begins_with_its_first_second_and_ends_before_its_last(cast) -> None:
    shift = make.shift(cast.ines)
    assert who_may("apply", "general", shift.starts_at) == [cast.ines]
    assert who_may("apply", "general", shift.ends_at) == []
    assert who_may("apply", "general", shift.starts_at - timedelta(microseconds=1)) == []


def test_who_may_takes_the_same_few_queries_for_one_person_and_for_forty(cast, django_assert_max_num_queries) -> None:
    shift = make.shift(cast.yuki)
    with CaptureQueriesContext(connection) as few:
        who_may("check", "food", AT)
    shift.crew.add(*(make.person(f"Crew {n:02d}", "operator", skills="aware apply check food") for n in range(40)))
    with django_assert_max_num_queries(len(few)):
        assert len(who_may("check", "food", AT)) == 41
    with django_assert_max_num_queries(20):
        standing(cast.hanna, "check", "food", AT)


def test_require_skill_lets_pass_or_refuses_with_the_act_the_reason_and_who_can(cast) -> None:
    make.shift(cast.lena)
    assert require_skill(cast.lena, "check", "medical", AT, "Checking C06").certificate is not None
    with pytest.raises(Forbidden) as refusal:
        require_skill(cast.ines, "apply", "medical", AT, "Applying tape on C06")
    assert refusal.value.code == "add-on-missing"
    assert refusal.value.sentence.startswith("Applying tape on C06 is refused. Ines Varga holds Apply")
    assert refusal.value.sentence.endswith("On this shift Lena Oduya may do it.")

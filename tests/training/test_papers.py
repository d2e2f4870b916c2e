"""Cards, certificates, records, calendars, figures of skills, and the small API: who may, and what is told."""

import csv
import io
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from icalendar import Calendar

from plant.audit.models import Event
from plant.errors import Conflict, Forbidden, Refused
from plant.people.models import Person
from plant.reports.engine import pdf_of
from plant.reports.registry import REPORTS
from plant.reports.services import ask_report
from tests import make
from tests.make import AT
from training.cards import check_card, qr_svg
from training.models import CalendarFeed, Due, Skill
from training.services import give_card, issue_certificate, raise_dues, suspend
from training.services.exporting import export_matrix, export_record
from training.services.feeds import end_feed, feed_of, make_feed
from training.services.figures import propose_figures, refuse_figures, sign_figures

pytestmark = pytest.mark.django_db
REVIEWED = {"valid_months": 6}


@pytest.fixture
def nils(cast) -> Person:
    make.plant()
    return make.person("=Nils Öberg", "operator", skills="aware")


@pytest.fixture
def issued(cast, nils):
    return issue_certificate(
        nils, "apply", valid_from=AT.date(), evidence="test and practical", confirmation=make.confirmation(cast.greta)
    )


@pytest.fixture(autouse=True)
def empty_cache() -> None:
    cache.clear()


def test_the_check_page_says_valid_and_no_more(issued) -> None:
    address = reverse("training:check", args=[issued.card.token])
    page = Client().get(address).content.decode()
    assert "valid now" in page
    assert "N. Ö." in page
    for secret in (issued.person.name, issued.person.staff_no, issued.number, "test and practical", "2027", "Greta"):
        assert secret not in page


def test_a_suspended_skill_reads_not_valid_at_once_and_gives_no_reason(issued, cast) -> None:
    later = AT + timedelta(minutes=1)
    suspend(issued, reason="hand near the nip", by=cast.hanna, at=later)
    assert check_card(issued.card.token, AT).valid
    assert not check_card(issued.card.token, later).valid


def test_an_old_card_answers_for_the_skill_as_it_is_now(issued, cast) -> None:
    at = AT + timedelta(days=330)
    make.certificate(issued.person, "aware", until=at.date() + timedelta(days=300))
    issue_certificate(
        issued.person, "apply", valid_from=at.date(), evidence="renewed", confirmation=make.confirmation(cast.greta, at)
    )
    assert check_card(issued.card.token, at + timedelta(days=60)).valid


def test_an_address_that_no_card_has_is_answered_alike_and_guessing_is_slowed() -> None:
    make.plant()
    client = Client()
    answers = [client.get(reverse("training:check", args=[f"guess-{n}"])).status_code for n in range(61)]
    assert answers[:60] == [404] * 60
    assert answers[60] == 429


def test_the_card_is_made_once_and_its_code_is_a_drawing_with_a_quiet_zone(issued) -> None:
    assert give_card(issued, AT) == give_card(issued, AT + timedelta(days=1))
    assert len(issued.card.token) == 32
    assert "<svg" in qr_svg("x") and "<script" not in qr_svg("x")


@pytest.mark.pdf
@pytest.mark.parametrize("kind", ["certificate-card", "certificate", "training-record", "training-results"])
def test_card_certificate_and_record_become_pdf_files(issued, kind) -> None:
    subject = issued.pk if kind.startswith("certificate") else issued.person.pk
    content = pdf_of(REPORTS[kind](str(subject), AT))
    assert content.startswith(b"%PDF")


@pytest.mark.pdf
def test_the_matrix_becomes_a_pdf_file(issued) -> None:
    assert pdf_of(REPORTS["training-matrix"]("all", AT)).startswith(b"%PDF")


def test_who_may_not_read_a_record_prints_none_either(issued, cast) -> None:
    for kind, reader in (
        ("training-record", cast.tomas),
        ("training-results", cast.tomas),
        ("certificate", cast.tomas),
    ):
        with pytest.raises(Forbidden):
            ask_report(kind, str(issued.person.pk if "training" in kind else issued.pk), by=reader, at=AT)
    assert ask_report("training-record", str(issued.person.pk), by=cast.yuki, at=AT)
    with pytest.raises(Refused):
        ask_report("training-results", str(issued.person.pk), by=cast.yuki, at=AT)


def rows_of(text: str) -> tuple[list[str], list[dict[str, str]]]:
    head = [line for line in text.splitlines() if line.lstrip('"').startswith("#")]
    body = "\n".join(line for line in text.splitlines() if not line.lstrip('"').startswith("#"))
    return head, list(csv.DictReader(io.StringIO(body)))


def test_an_export_carries_filter_time_user_and_count_and_no_cell_begins_a_formula(issued, cast) -> None:
    head, rows = rows_of(export_record(issued.person, as_of=AT, by=cast.greta, at=AT))
    said = "\n".join(head)
    assert "filter: person = =Nils" in said
    assert f"by: Greta Munro ({cast.greta.staff_no})" in said
    assert f"rows: {len(rows)}" in said and len(rows) == 2
    assert rows[1]["name"] == "'=Nils Öberg"
    assert (rows[1]["skill"], rows[1]["rule and version"], rows[1]["type"]) == ("Apply", "anniversary 1", "first")
    assert rows[1]["signature digest"] not in ("", "not recorded")
    assert Event.objects.filter(action="export").count() == 1


def test_as_of_the_day_before_a_certificate_was_not_there(issued, cast) -> None:
    _, rows = rows_of(export_record(issued.person, as_of=AT - timedelta(days=1), by=cast.greta, at=AT))
    assert [row["skill"] for row in rows] == ["Aware"]
    _, people = rows_of(export_matrix(as_of=AT - timedelta(days=1), by=cast.greta, at=AT))
    assert next(row for row in people if row["name"].startswith("'=Nils"))["Apply"] == ""
    _, people = rows_of(export_matrix(as_of=AT, by=cast.greta, at=AT))
    assert next(row for row in people if row["name"].startswith("'=Nils"))["Apply"] == "valid to 2027-03-25"


def test_a_calendar_has_one_event_per_due_with_its_own_date_and_nothing_that_recurs(cast, nils) -> None:
    """RFC 5545: CRLF, lines of at most 75 octets, DTEND exclusive, stable UID; no RRULE."""
    make.certificate(nils, "hot", until=AT.date() + timedelta(days=40))
    raise_dues(AT)
    _, token = make_feed(whole_plant=False, by=nils, at=AT)
    address = reverse("training:calendar", args=[token])
    body = Client().get(address).content
    assert body == Client().get(address).content
    lines = body.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines) and b"\n" not in b"".join(lines)
    assert b"RRULE" not in body
    events = {str(event["uid"]): event for event in Calendar.from_ical(body).walk("VEVENT")}
    dues = Due.objects.filter(person=nils, closed_at=None)
    assert len(events) == dues.count() > 0
    due = dues.get(skill__code="hot", kind="renewal")
    event = next(each for uid, each in events.items() if uid.startswith(f"due-{due.pk}@"))
    assert event["dtstart"].dt == due.due_on
    assert event["dtend"].dt == due.due_on + timedelta(days=1)


def test_a_calendar_address_is_kept_as_its_digest_and_ends_at_once(cast, nils) -> None:
    feed, token = make_feed(whole_plant=False, by=nils, at=AT)
    assert token not in str(CalendarFeed.objects.values_list().get())
    assert feed_of(token, AT) == feed
    _, second = make_feed(whole_plant=False, by=nils, at=AT)
    assert Client().get(reverse("training:calendar", args=[token])).status_code == 404
    end_feed(whole_plant=False, by=nils, at=AT)
    assert Client().get(reverse("training:calendar", args=[second])).status_code == 404


def test_the_calendar_of_the_plant_is_for_overseers_and_ends_with_the_role(cast, nils) -> None:
    with pytest.raises(Forbidden):
        make_feed(whole_plant=True, by=nils, at=AT)
    _, token = make_feed(whole_plant=True, by=cast.greta, at=AT)
    cast.greta.role_grants.update(ended_at=AT)
    with pytest.raises(Refused):
        feed_of(token, AT + timedelta(hours=1))


def test_other_figures_are_in_force_only_after_another_person_signed(cast) -> None:
    make.plant()
    apply = Skill.objects.get(code="apply")
    proposal = propose_figures(apply, REVIEWED, reason="too many faults after half a year", by=cast.greta, at=AT)
    assert Skill.objects.get(code="apply").valid_months == 12
    skill = sign_figures(proposal, confirmation=make.confirmation(cast.yuki))
    assert (skill.valid_months, skill.rule_version) == (6, 2)
    made = issue_certificate(
        make.person("Nils", "operator", skills="aware"),
        "apply",
        valid_from=AT.date(),
        evidence="test and practical",
        confirmation=make.confirmation(cast.greta),
    )
    assert (made.rule_version, made.valid_to.isoformat()) == (2, "2026-09-25")


def test_nobody_signs_the_figures_that_he_or_she_proposed(cast) -> None:
    make.plant()
    both = make.person("Both Roles", "trainer", "qa")
    proposal = propose_figures(Skill.objects.get(code="apply"), REVIEWED, reason="twice a year", by=both, at=AT)
    with pytest.raises(Refused) as refusal:
        sign_figures(proposal, confirmation=make.confirmation(both))
    assert refusal.value.code == "own-proposal"
    refuse_figures(proposal, reason="thought again", by=both, at=AT)
    assert Skill.objects.get(code="apply").valid_months == 12


def test_figures_that_changed_meanwhile_are_not_signed_over(cast) -> None:
    make.plant()
    proposal = propose_figures(Skill.objects.get(code="apply"), REVIEWED, reason="twice a year", by=cast.greta, at=AT)
    Skill.objects.filter(code="apply").update(rule_version=2)
    with pytest.raises(Conflict):
        sign_figures(proposal, confirmation=make.confirmation(cast.yuki))


def test_a_figure_out_of_range_names_its_field_and_nothing_is_lost(cast, signed_in) -> None:
    make.plant()
    client = signed_in(cast.greta)
    address = reverse("training:propose", args=["apply"])
    form = client.get(address).context["form"]
    shown = {name: form[name].value() for name in form.fields}
    typed = {name: value for name, value in shown.items() if value is not None and value is not False}
    typed |= {"valid_months": "0", "reason": "just a try"}
    answer = client.post(address, typed)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "valid months: enter a whole number from 1 to 120" in page
    assert "just a try" in page
    assert Skill.objects.get(code="apply").valid_months == 12


def test_the_api_answers_may_with_the_sentence_of_the_screen_and_no_scores(cast, signed_in) -> None:
    make.plant()
    client = signed_in(cast.hanna)
    address = reverse("training-api:may")
    yes = client.get(address, {"person": cast.ines.staff_no, "skill": "apply"}).json()
    assert set(yes) == {"may", "code", "sentence", "certificate", "valid_to", "at"}
    no = client.get(address, {"person": cast.ines.staff_no, "skill": "apply", "room": "medical"}).json()
    assert (no["may"], no["code"]) == (False, "add-on-missing")
    unknown = client.get(address, {"person": cast.ines.staff_no, "skill": "fly"})
    assert (unknown.status_code, unknown.json()["field"]) == (400, "skill")


def test_the_api_lists_what_is_due(cast, nils, signed_in) -> None:
    make.certificate(nils, "hot", until=AT.date() + timedelta(days=40))
    raise_dues(AT)
    rows = signed_in(cast.hanna).get(reverse("training-api:dues"), {"person": nils.staff_no, "skill": "hot"}).json()
    assert [row["due_on"] for row in rows if row["kind"] == "renewal"] == ["2026-05-04"]


def test_a_certificate_to_oneself_is_refused_by_service_by_address_and_by_the_database(cast, signed_in) -> None:
    make.plant()
    with pytest.raises(Refused) as refusal:
        issue_certificate(
            cast.greta, "check", valid_from=AT.date(), evidence="mine", confirmation=make.confirmation(cast.greta)
        )
    assert refusal.value.code == "own-certificate"
    client = signed_in(cast.greta)
    typed = {"skill": "check", "valid_from": "2026-03-25", "evidence": "my own test", "secret": make.SECRET}
    assert client.post(reverse("training:issue", args=[cast.greta.pk]), typed).status_code == 422
    assert not cast.greta.certificates.filter(skill__code="check").exists()


LISTS = {"training:wall": 14, "training:grid": 18, "training:coverage": 16, "training:skills": 12}


def test_due_wall_grid_and_shifts_ask_the_same_few_queries_for_few_and_for_many(cast, signed_in) -> None:
    make.plant()
    client = signed_in(cast.hanna)

    def counted() -> dict[str, int]:
        found = {}
        for name in LISTS:
            with CaptureQueriesContext(connection) as asked:
                assert client.get(reverse(name), {"everybody": "1"}).status_code == 200
            found[name] = len(asked)
        return found

    counts = []
    for many in (2, 20):
        names, ends = [f"P{many}-{n}" for n in range(many)], AT.date()
        crew = [make.person(name, "operator", skills="aware apply check", until=ends) for name in names]
        for n in range(many // 2):
            make.shift(*crew, name=f"S{many}-{n}", starts=AT + timedelta(hours=n + 1), ends=AT + timedelta(days=1))
        raise_dues(AT)
        counts.append(counted())
    assert counts[0] == counts[1]
    assert {name: count for name, count in counts[1].items() if count > LISTS[name]} == {}

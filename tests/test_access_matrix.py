"""Who may open which address. Every address stands here; a new one fails the first test until it is named.

What an act asks for beyond the role (certificates, other persons, states) is tested where the act is tested. Here
stand the doors: who may look, and that a request without sense writes nothing and breaks nothing, whoever sends it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from plant.audit.models import Event
from plant.audit.services import keep_photo
from plant.floor.models import Line, Shift
from plant.people.models import Person, Role
from plant.records.models import PurgeOrder
from plant.reports.models import StoredReport
from rollers.cases import TypedBand
from rollers.models import Gauge, HeldRoll, Survey
from rollers.services.holds import hold_between
from rollers.services.recipes import draft_recipe
from rollers.services.runs import plan_run
from rollers.services.sheets import draft_sheet
from rollers.services.tasks import open_deviation, open_task, raise_alert
from tests import make
from tests.causes.doors import cause_rows
from tests.rollers.store_doors import STORE_DOORS, store_rows
from tests.training.lessons import learning_rows
from training.models import Due, Skill, SkillProposal, Trigger
from training.services import ask_refresher, settle_dues
from training.services.figures import propose_figures

EVERYONE = frozenset(Role)
INSIDERS = EVERYONE - {Role.GUEST}
KEEPER, ENGINEER, QA = Role.KEEPER, Role.ENGINEER, Role.QA
BUILDERS = frozenset({KEEPER, ENGINEER})
ROLLERS = frozenset({Role.MAINTENANCE, ENGINEER, KEEPER})
PLANNERS = frozenset({Role.SUPERVISOR, KEEPER})
CERTIFIERS = frozenset({QA, Role.TRAINER, Role.ASSESSOR})
READERS = frozenset({QA, Role.MANAGER, Role.SUPERVISOR})
SCORES = frozenset({Role.TRAINER, Role.ASSESSOR})
TRAIL = frozenset({QA, KEEPER, Role.MANAGER, Role.GUEST})
POSTED = None  # an address that is only posted to

A = {"code": "A05"}
LINE, ROOM, PRODUCT, STOCK = {"code": "A"}, {"code": "G1"}, {"code": "SF-17"}, {"code": "T1"}
GAUGE, BODY, FILE = {"code": "PI-1"}, {"serial": "R-A05"}, {"code": "products"}

DOORS: dict[str, tuple[dict[str, Any], frozenset[str] | None]] = {
    "home": ({}, EVERYONE),
    "people:me": ({}, EVERYONE),
    "people:choose-secret": ({}, EVERYONE),
    "people:choose-pin": ({}, EVERYONE),
    "people:sign-out": ({}, POSTED),
    "people:language": ({}, POSTED),
    "people:list": ({}, INSIDERS),
    "people:person": ({"key": "person"}, INSIDERS),
    "people:join": ({}, frozenset({KEEPER})),
    "people:leave": ({"key": "person"}, frozenset({KEEPER})),
    "people:roles": ({"key": "person"}, frozenset({KEEPER})),
    "people:badge": ({"key": "person"}, frozenset({KEEPER})),
    "people:starter": ({"key": "person"}, frozenset({KEEPER})),
    "people:review": ({}, frozenset({KEEPER, QA, Role.MANAGER})),
    "training:grid": ({}, INSIDERS),
    "training:person": ({"key": "person"}, INSIDERS),
    "training:wall": ({}, INSIDERS),
    "training:put-aside": ({"pk": "due"}, frozenset({QA, Role.TRAINER})),
    "training:coverage": ({}, INSIDERS),
    "training:refresher": (
        {"key": "person"},
        frozenset({QA, Role.TRAINER, Role.ASSESSOR, Role.SUPERVISOR, ENGINEER}),
    ),
    "training:refreshed": ({"pk": "trigger"}, CERTIFIERS),
    "training:read-notes": ({}, POSTED),
    "training:record-csv": ({"key": "person"}, CERTIFIERS | {Role.SUPERVISOR, Role.MANAGER}),
    "training:matrix-csv": ({}, INSIDERS),
    "training:skills": ({}, INSIDERS),
    "training:propose": ({"code": "apply"}, frozenset({Role.TRAINER, ENGINEER})),
    "training:proposal": ({"pk": "proposal"}, INSIDERS),
    "training:refuse-proposal": ({"pk": "proposal"}, POSTED),
    "training:certificate": ({"pk": "certificate"}, INSIDERS),
    "training:make-feed": ({}, POSTED),
    "training:end-feed": ({}, POSTED),
    "training-api:may": ({}, INSIDERS),
    "training-api:dues": ({}, INSIDERS),
    "training:path": ({}, EVERYONE),
    "training:modules": ({}, EVERYONE),
    "training:module": ({"number": 1}, EVERYONE),
    "training:module-changes": ({"number": 1}, EVERYONE),
    "training:content-file": ({"lang": "en", "name": "none.png"}, frozenset()),
    "training:path-of": ({"key": "person"}, SCORES),
    "training:skill-path": ({"key": "person", "code": "apply"}, SCORES),
    "training:practice": ({"key": "person"}, INSIDERS),
    "training:coach": ({"key": "person", "code": "apply"}, frozenset({Role.TRAINER})),
    "training:certify": ({"key": "person", "code": "apply"}, CERTIFIERS),
    # Who assesses is asked by certificate, and no role has one.
    "training:assess": ({"key": "person", "code": "apply"}, frozenset()),
    "training:begin-test": ({"code": "aware"}, EVERYONE),
    "training:begin-oral": ({"code": "aware"}, EVERYONE),
    "training:test": ({"key": "attempt"}, SCORES),
    "training:keep-picks": ({"key": "attempt"}, POSTED),
    "training:sessions": ({}, INSIDERS),
    "training:plan-session": ({}, frozenset({Role.TRAINER, QA, Role.SUPERVISOR})),
    "training:session": ({"key": "session"}, INSIDERS),
    "training:attend": ({"key": "session", "person": "person"}, POSTED),
    "training:cancel-session": ({"key": "session"}, frozenset({Role.TRAINER, QA, Role.SUPERVISOR})),
    "training:practicals": ({}, INSIDERS),
    "training:practical": ({"key": "practical"}, SCORES),
    # Only its assessor marks it.
    "training:step": ({"key": "practical", "number": 1}, frozenset()),
    "training:end-practical": ({"key": "practical", "how": "end"}, SCORES),
    "training:candidate": ({"key": "practical"}, frozenset()),
    "training:mark-again": ({"key": "practical"}, INSIDERS),
    "training:statistics": ({}, frozenset({Role.TRAINER, QA})),
    "training:bank": ({}, frozenset({Role.TRAINER, QA})),
    "training:retire-question": ({"code": "q01"}, frozenset({Role.TRAINER, QA})),
    "training:issue": ({"key": "person"}, CERTIFIERS),
    "training:founding": ({"key": "person"}, frozenset({KEEPER, QA, Role.TRAINER})),
    "training:act": (
        {"key": "certificate", "verb": "suspend"},
        frozenset({Role.SUPERVISOR, QA, Role.TRAINER}),
    ),
    "floor:plant": ({}, BUILDERS),
    "floor:rooms": ({}, EVERYONE),
    "floor:new-room": ({}, BUILDERS | {QA}),
    "floor:reclassify-room": (ROOM, frozenset({KEEPER, QA})),
    "floor:lines": ({}, EVERYONE),
    "floor:line": (LINE, EVERYONE),
    "floor:new-line": ({}, BUILDERS),
    "floor:new-position": (LINE, BUILDERS | {Role.MAINTENANCE}),
    "floor:draw-path": (LINE, BUILDERS),
    "floor:products": ({}, EVERYONE),
    "floor:product": (PRODUCT, EVERYONE),
    "floor:new-product": ({}, BUILDERS),
    "floor:revise-product": (PRODUCT, BUILDERS),
    "floor:shifts": ({}, EVERYONE),
    "floor:shift-patterns": ({}, PLANNERS),
    "floor:plan-shifts": ({}, PLANNERS),
    "floor:crew": ({"pk": "shift"}, PLANNERS),
    "rollers:registry": ({}, EVERYONE),
    "rollers:bodies": ({}, EVERYONE),
    "rollers:body": (BODY, EVERYONE),
    "rollers:new-body": ({}, ROLLERS),
    "rollers:enter-rollers": (LINE, ROLLERS),
    "rollers:measure": (
        {"quantity": "diameter_mm", "key": "R-A05"},
        frozenset({Role.MAINTENANCE, ENGINEER, QA, Role.STOREKEEPER, Role.OPERATOR}),
    ),
    "rollers:mounting": (A, EVERYONE),
    "rollers:do-mounting": (A | {"act": "turn"}, POSTED),
    "rollers:stocks": ({}, EVERYONE),
    "rollers:stock": (STOCK, EVERYONE),
    "rollers:new-stock": ({}, frozenset({ENGINEER, Role.STOREKEEPER, QA, KEEPER})),
    "rollers:change-stock": (STOCK, frozenset({ENGINEER, QA, KEEPER})),
    "rollers:gauges": ({}, EVERYONE),
    "rollers:gauge": (GAUGE, EVERYONE),
    "rollers:new-gauge": ({}, ROLLERS | {QA}),
    "rollers:calibrate": (GAUGE, ROLLERS | {QA}),
    "rollers:retire-gauge": (GAUGE, ROLLERS | {QA}),
    "rollers:surveys": ({}, EVERYONE),
    "rollers:start-survey": (ROOM, POSTED),
    "rollers:survey": ({"pk": "survey"}, EVERYONE),
    "rollers:close-survey": ({"pk": "survey"}, POSTED),
    "rollers:survey-roller": (
        {"pk": "survey", "code": "A05"},
        BUILDERS | {Role.OPERATOR, Role.MAINTENANCE, Role.SUPERVISOR, QA},
    ),
    "rollers:import-overview": ({}, EVERYONE),
    "rollers:import": (FILE, EVERYONE),
    "rollers:confirm-import": (FILE, POSTED),
    "rollers:import-file": (FILE | {"which": "blank"}, EVERYONE),
    "rollers:export": (FILE, INSIDERS),
    "rollers:board": (LINE, EVERYONE),
    "rollers:plan-run": (LINE, POSTED),
    "rollers:run": ({"pk": "run"}, EVERYONE),
    "rollers:release-run": ({"pk": "run"}, POSTED),
    "rollers:end-run": ({"pk": "run"}, POSTED),
    "rollers:position": (A, EVERYONE),
    "rollers:sizing": (A, EVERYONE),
    "rollers:sizing-part": (A | {"name": "web"}, EVERYONE),
    "rollers:draft-recipe": (A, POSTED),
    "rollers:recipes": ({}, EVERYONE),
    "rollers:recipe": ({"pk": "recipe"}, EVERYONE),
    "rollers:check-recipe": ({"pk": "recipe"}, POSTED),
    "rollers:approve-recipe": ({"pk": "recipe"}, POSTED),
    "rollers:withdraw-recipe": ({"pk": "recipe"}, POSTED),
    "rollers:copy-recipe": ({"pk": "recipe"}, EVERYONE),
    "rollers:metal": ({"pk": "recipe"}, EVERYONE),
    "rollers:lathe": ({"pk": "recipe"}, EVERYONE),
    "rollers:modulus": (PRODUCT, EVERYONE),
    "rollers:take-modulus": (PRODUCT, POSTED),
    "rollers:strip-example": (PRODUCT, EVERYONE),
    "rollers:sheets": ({}, EVERYONE),
    "rollers:sheet": ({"pk": "sheet"}, EVERYONE),
    "rollers:edit-sheet": (PRODUCT | {"path_pk": "path"}, frozenset({Role.SUPERVISOR})),
    "rollers:sign-sheet": ({"pk": "sheet"}, POSTED),
    "rollers:withdraw-sheet": ({"pk": "sheet"}, POSTED),
    "rollers:open-work": ({}, EVERYONE),
    "rollers:take-alert": ({"pk": "alert"}, POSTED),
    "rollers:task": ({"pk": "task"}, EVERYONE),
    "rollers:deviation": ({"pk": "deviation"}, EVERYONE),
    "rollers:tie-deviation": ({"pk": "deviation"}, frozenset({QA})),
    "rollers:change-sheet": ({"pk": "run"}, EVERYONE),
    "rollers:set-point": ({"pk": "run"}, POSTED),
    "rollers:run-order": (LINE, EVERYONE),
    "rollers:override": (LINE, frozenset({Role.SUPERVISOR})),
    "rollers:overrides": ({}, EVERYONE),
    "rollers:handover": (LINE, EVERYONE),
    "rollers:holds": ({}, EVERYONE),
    "rollers:hold": ({"pk": "hold"}, EVERYONE),
    "rollers:close-hold": ({"pk": "hold"}, POSTED),
    "rollers:held-roll": ({"pk": "held-roll"}, EVERYONE),
    "rollers:room-tape": (ROOM, EVERYONE),
    "rollers:controls": ({}, EVERYONE),
    "rollers:limits": ({}, EVERYONE),
    "rollers:change-limits": ({}, frozenset({ENGINEER, QA})),
    "tablet:lines": ({}, EVERYONE),
    "tablet:line": (LINE, EVERYONE),
    "tablet:roller": (A, EVERYONE),
    "tablet:act": (A | {"act": "found"}, EVERYONE),
    "tablet:job": (A | {"track": "clean"}, EVERYONE),
    "causes:line": (LINE, EVERYONE),
    "causes:what-if": (LINE, EVERYONE),
    "causes:walk": ({"pk": "walk"}, EVERYONE),
    "causes:roller": (A, EVERYONE),
    "causes:remark": (A, POSTED),
    "causes:decide": (A, frozenset({ENGINEER})),
    "causes:trial": (A, frozenset({ENGINEER})),
    "causes:start-trial": ({"pk": "recipe"}, POSTED),
    "causes:open-sheet": (A, POSTED),
    "causes:plan-study": (A, frozenset({ENGINEER})),
    "causes:sheet": ({"pk": "cause-sheet"}, EVERYONE),
    "causes:close-sheet": ({"pk": "cause-sheet"}, POSTED),
    "causes:order": ({"pk": "cause-sheet"}, POSTED),
    "causes:fill": ({"pk": "cause-sheet", "cause": "air"}, POSTED),
    "causes:finish-order": ({"pk": "order"}, POSTED),
    "causes:study": ({"pk": "study"}, EVERYONE),
    "causes:work-out": ({"pk": "study"}, POSTED),
    "causes:pays": ({}, EVERYONE),
    "causes:pays-of": (A, EVERYONE),
    "causes:pays-csv": (A, INSIDERS),
    "causes-tablet:report": (LINE, EVERYONE),
    "causes-tablet:walk-line": (LINE, EVERYONE),
    "causes-tablet:walk": ({"pk": "walk"}, EVERYONE),
    "causes-tablet:finish-walk": ({"pk": "walk"}, EVERYONE),
    "causes-tablet:walk-said": ({"pk": "walk"}, EVERYONE),
    "reports:ask": ({"kind": "release-record", "subject_id": "run"}, POSTED),
    "reports:show": ({"pk": "report"}, READERS),
    "reports:fetch": ({"pk": "report"}, POSTED),
    "reports:photo": ({"pk": "photo"}, EVERYONE),
    "records:trail": ({}, TRAIL),
    "records:event": ({"pk": "event"}, TRAIL),
    "records:proof": ({"pk": "event"}, POSTED),
    "records:export": ({}, POSTED),
    "records:script": ({}, EVERYONE),
    "records:reviews": ({}, TRAIL),
    "records:roots": ({}, TRAIL),
    "records:roots-file": ({}, POSTED),
    "records:verify": ({}, POSTED),
    "records:retention": ({}, TRAIL - {Role.GUEST}),
    "records:export-due": ({"matter": "answers"}, POSTED),
    "records:order": ({"pk": "order"}, TRAIL - {Role.GUEST}),
    "rollers-api:readiness": (LINE, EVERYONE),
    "rollers-api:recipe": (A, EVERYONE),
    "rollers-api:plan-run": (LINE, POSTED),
    "rollers-api:release-run": ({"pk": "run"}, POSTED),
    "rollers-api:check": ({}, POSTED),
    "rollers-api:size": ({}, POSTED),
    "api:schema": ({}, EVERYONE),
    "api:page": ({}, EVERYONE),
}
DOORS |= STORE_DOORS
OPEN = {"people:sign-in", "training:check", "training:calendar"}


def addresses(patterns: list, prefix: str = "") -> Iterator[str]:
    """Every named address of the application."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, f"{pattern.namespace}:" if pattern.namespace else prefix)
        elif isinstance(pattern, URLPattern) and pattern.name:
            yield f"{prefix}{pattern.name}"


@dataclass
class World:
    """A small plant with one of everything, and a person of every role."""

    keys: dict[str, Any]
    people: dict[str, Person]

    def url(self, name: str) -> str:
        """An address with the keys of this world filled in."""
        given = {key: self.keys.get(value, value) for key, value in DOORS[name][0].items()}
        return reverse(name, kwargs=given)


def raised_due(cast) -> Due:
    """Something that is due, of a person whom no test signs in as."""
    make.certificate(cast.rui, "hot", until=make.AT.date())
    settle_dues([cast.rui], make.AT)
    return Due.objects.get(person=cast.rui, skill__code="hot", kind=Due.Kind.RENEWAL)


def asked_refresher(cast) -> Trigger:
    """A refresher that waits."""
    return ask_refresher(cast.rui, "apply", "new-stock", reason="stock T5 is new", by=cast.hanna, at=make.AT)


def proposed_figures(cast) -> SkillProposal:
    """Other figures for a skill, not signed yet."""
    size = Skill.objects.get(code="size")
    return propose_figures(size, {"valid_months": 18}, reason="more often", by=cast.greta, at=make.AT)


def what_is_open(line: Line, by: Person) -> dict[str, Any]:
    """One of everything that waits for somebody."""
    say = {"line": line, "at": make.AT}
    alert = raise_alert("a", "major", "trouble", next_action="look", for_role="supervisor", **say)
    task = open_task("other", "t", "to do", by=by, owner=by, **say)
    deviation = open_deviation("late-entry", "minor", "late", owner_role="qa", **say)
    hold = hold_between(line, make.LONG_AGO, make.AT, why="other", sentence="held", by=by, at=make.AT)
    held = HeldRoll.objects.create(hold=hold, label="R-1", length_m=1500)
    return {"alert": alert.pk, "task": task.pk, "deviation": deviation.pk, "hold": hold.pk, "held-roll": held.pk}


@pytest.fixture
def world(cast) -> World:
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    position = make.position("A05", path=path, room=room)
    version = make.product("SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
    at, step = make.AT, path.steps.get()
    bands = [TypedBand("operator", 600, 792, 4), TypedBand("drive", 600, 792, 4)]
    recipe = draft_recipe(
        step=step,
        title="stretch",
        products=[version.product],
        stock=make.stock("T1"),
        bands=bands,
        by=cast.dara,
        at=at,
    )
    run = plan_run(
        path=path, version=version, tension_n_per_m=50, speed_m_per_min=280, starts_at=at, by=cast.hanna, at=at
    )
    Gauge.objects.create(code="PI-1", name="pi tape")
    report = StoredReport.objects.create(
        kind="release-record", subject_id="1", title="x", asked_by=cast.hanna, asked_at=at
    )
    keys = what_is_open(line, cast.dara) | {
        "person": cast.mei.pk,
        "certificate": cast.mei.certificates.first().pk,
        "due": raised_due(cast).pk,
        "trigger": asked_refresher(cast).pk,
        "proposal": proposed_figures(cast).pk,
        "shift": make.shift(cast.ines).pk,
        "survey": Survey.objects.create(room=room, opened_at=at, opened_by=cast.yuki).pk,
        "run": run.pk,
        "recipe": recipe.pk,
        "sheet": draft_sheet(product=version.product, path=path, choices={}, by=cast.hanna, at=at).pk,
        "path": path.pk,
        "report": report.pk,
        "order": PurgeOrder.objects.create(
            matter="answers", before=at, listed=[], export_digest="0" * 64, exported_at=at, exported_by=cast.yuki
        ).pk,
        "event": Event.objects.filter(stream="line:A").latest("pk").pk,
        **learning_rows(cast.mei, cast.dara, cast.greta, at),
        **store_rows(cast, position, cast.mei),
        **cause_rows(position, version, path, cast.dara, at),
        "photo": keep_photo(make.photo(), by=cast.ines, at=at, purpose="tail of A05").pk,
    }
    assert position.code == "A05" and Shift.objects.count() == 1
    return World(keys, {role: make.person(f"Only {role.label}", role) for role in Role})


def test_every_address_stands_in_the_matrix():
    named = set(addresses(get_resolver().url_patterns))
    assert named - set(DOORS) - OPEN == set()
    assert set(DOORS) <= named


def test_each_door_opens_to_its_roles_and_to_no_other(world, signed_in):
    wrong = []
    for role, person in world.people.items():
        client = signed_in(person)
        for name, (_, who) in DOORS.items():
            if who is POSTED:
                continue
            status = client.get(world.url(name)).status_code
            expected = role in who
            if (status not in (403, 404) if not expected else status in (403, 500)) or status >= 500:
                wrong.append(f"{name} for {role}: {status}")
    assert wrong == []


def test_nobody_gets_in_without_signing_in(world):
    client = Client()
    for name in DOORS:
        for ask in (client.get, client.post):
            answer = ask(world.url(name))
            assert answer.status_code in (302, 401, 403, 405), (name, answer.status_code)
            if answer.status_code == 302:
                assert answer.headers["Location"].startswith(reverse("people:sign-in")), name


@pytest.mark.parametrize("body", [{}, {"secret": "wrong", "reason": "\x00", "code": "'; --", "pk": "-1"}])
def test_a_request_without_sense_breaks_nothing_even_from_who_holds_every_role(world, signed_in, body):
    client = signed_in(make.person("Holds every role", *(EVERYONE - {Role.GUEST})))
    for name in DOORS:
        assert client.post(world.url(name), body).status_code < 500, name


def test_a_guest_completes_no_act(world, signed_in):
    guest, before = world.people[Role.GUEST], Event.objects.count()
    client = signed_in(guest)
    for name in DOORS:
        if name != "people:sign-out":
            client.post(world.url(name))
    assert [event.sentence for event in Event.objects.order_by("pk")[before:]] == []

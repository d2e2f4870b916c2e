"""How many questions a page may ask the database. A page that lists things asks the same number for few and many."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests import make

pytestmark = pytest.mark.django_db

# page: (arguments, most queries); session, person, roles, plant and shift take about seven of each
BUDGETS: dict[str, tuple[dict[str, Any], int]] = {
    "home": ({}, 19),
    "rollers:board": ({"code": "A"}, 28),
    "rollers:position": ({"code": "A05"}, 19),
    "rollers:sizing": ({"code": "A05"}, 32),
    "rollers:recipes": ({}, 12),
    "rollers:sheets": ({}, 13),
    "rollers:bodies": ({}, 14),
    "rollers:stocks": ({}, 12),
    "rollers:gauges": ({}, 12),
    "rollers:surveys": ({}, 13),
    "floor:lines": ({}, 14),
    "floor:line": ({"code": "A"}, 16),
    "floor:products": ({}, 13),
    "floor:rooms": ({}, 12),
    "floor:shifts": ({}, 12),
    "people:list": ({}, 13),
    "training:grid": ({}, 17),
    "causes:line": ({"code": "A"}, 19),
    "causes:what-if": ({"code": "A"}, 24),
    "causes:roller": ({"code": "A05"}, 32),
    "causes:pays": ({}, 12),
    "causes:pays-of": ({"code": "A05"}, 12),
    "causes-tablet:report": ({"code": "A"}, 18),
    "causes-tablet:walk-line": ({"code": "A"}, 22),
    "training:modules": ({}, 13),
    "training:sessions": ({}, 13),
    "training:practicals": ({}, 17),
    "tablet:lines": ({}, 14),
    "tablet:line": ({"code": "A"}, 16),
    "tablet:roller": ({"code": "A05"}, 64),
    "tablet:act": ({"code": "A05", "act": "found"}, 64),
}


def fill(cast: Any, rollers: int, others: int) -> None:
    """A line with so many rollers, and so many of everything that is listed beside it."""
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    if not line.positions.filter(code="A05").exists():
        make.position("A05", path=path, room=room)
    have = line.positions.count()
    for number in range(have, rollers):
        make.position(f"A{number + 100}", path=path, room=room)
    for number in range(others):
        code = f"P{rollers}-{number}"
        make.product(code, line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
        make.stock(f"S{rollers}-{number}", thickness_mm=0.1, width_mm=50, roughness_um=10, room_kinds=["general"])
        make.person(f"Person {code}", "operator", skills="aware apply")
        make.room(f"R{rollers}-{number}")


def count(client: Any, name: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as asked:
        answer = client.get(reverse(name, kwargs=BUDGETS[name][0]))
    assert answer.status_code == 200, name
    return len(asked)


def test_every_page_keeps_its_budget_and_asks_no_more_for_many_than_for_few(cast, signed_in):
    client = signed_in(cast.hanna)
    make.shift(cast.hanna, cast.ines)
    fill(cast, 3, 2)
    few = {name: count(client, name) for name in BUDGETS}
    fill(cast, 25, 12)
    many = {name: count(client, name) for name in BUDGETS}
    over = {name: many[name] for name, (_, most) in BUDGETS.items() if many[name] > most}
    growing = {name: (few[name], many[name]) for name in BUDGETS if many[name] > few[name] + 2}
    assert over == {}
    assert growing == {}

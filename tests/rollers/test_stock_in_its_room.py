"""Tape where it sits: is the stock permitted in the room, and may it touch the product's contact side?"""

from datetime import date

import pytest

from plant.floor.models import ProductVersion
from rollers.models import TapeStock
from rollers.readiness import readiness
from rollers.rules_line import stock_troubles
from tests import make
from tests.rollers.scenes import taped_b

DAY = date(2026, 3, 25)


@pytest.mark.parametrize(
    ("kind", "contact", "ends", "troubles"),
    [
        ("general", True, None, 0),
        ("food", False, None, 0),
        ("food", True, None, 1),
        ("food", True, date(2026, 3, 24), 1),
        ("food", True, date(2026, 3, 25), 0),
        ("medical", False, None, 1),
    ],
)
def test_the_contact_side_in_a_strict_room_needs_a_statement_that_still_holds(kind, contact, ends, troubles):
    """That the supplier's statement covers the contact is asked for by Regulation (EC) 1935/2004, articles 15 and 16;
    the rule itself is our own."""
    found = stock_troubles(
        "T5",
        room_kind=kind,
        permitted=["general", "food"],
        on_contact_side=contact,
        statement_ends=ends,
        day=DAY,
    )
    assert len(found) == troubles


@pytest.mark.django_db
def test_a_statement_that_ran_out_blocks_the_line_with_tape_on_its_contact_side(cast):
    scene, *_ = taped_b(cast)
    version = scene.product("BO-35").versions.get(current=True)
    assert readiness(scene.path, version, at=make.AT).may_run
    ProductVersion.objects.filter(pk=version.pk).update(contact_side="A")
    TapeStock.objects.update(contact_statement="CS-1", contact_statement_ends=date(2026, 3, 24))
    version.refresh_from_db()
    blocks = readiness(scene.path, version, at=make.AT).blocks
    assert blocks and {block.code for block in blocks} == {"stock"}
    assert "contact statement ended on 2026-03-24" in blocks[0].sentence
    TapeStock.objects.update(contact_statement_ends=date(2027, 3, 24))
    assert readiness(scene.path, version, at=make.AT).may_run

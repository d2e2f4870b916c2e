"""The skills every installation starts with, and how they get into the database.

Levels, what they need, and how long they last are our own defaults; no standard sets them for this work,
and the plant may change the months. Teach and Assess also need the level that is taught: that depends on
the course, so it is asked where a course is given or a person is assessed, not here.
"""

from dataclasses import dataclass
from typing import Any

from django.apps import apps as apps_now
from django.apps.registry import Apps

AWARE, APPLY, CHECK, SIZE, TEACH, ASSESS = "aware", "apply", "check", "size", "teach", "assess"
FOOD, MEDICAL, HOT = "food", "medical", "hot"


@dataclass(frozen=True)
class StandardSkill:
    """One row to lay down."""

    code: str
    name: str
    kind: str
    valid_months: int
    needs: tuple[str, ...] = ()


STANDARD_SKILLS = (
    StandardSkill(AWARE, "Aware", "level", 24),
    StandardSkill(APPLY, "Apply", "level", 12, (AWARE,)),
    StandardSkill(CHECK, "Check", "level", 12, (APPLY,)),
    StandardSkill(SIZE, "Size", "level", 24, (AWARE,)),
    StandardSkill(TEACH, "Teach", "level", 24),
    StandardSkill(ASSESS, "Assess", "level", 24),
    # The add-ons are built on Apply: whose Apply is suspended does not count tape in a clean room either.
    StandardSkill(FOOD, "Food room", "add-on", 12, (APPLY,)),
    StandardSkill(MEDICAL, "Medical room", "add-on", 12, (APPLY,)),
    StandardSkill(HOT, "Hot roller", "add-on", 12, (APPLY,)),
)

# The add-on that a room of this kind asks for; a general room asks for none.
ROOM_ADD_ON = {"food": FOOD, "medical": MEDICAL}

# The skills of hands on a roller. Sizing and teaching are desk work: the room asks for no add-on there.
IN_THE_ROOM = frozenset({APPLY, CHECK})


def lay_down_skills(*, using: str, apps: Apps = apps_now, **rest: Any) -> None:
    """Create the standard skills that are missing; never change one that is there, its months may be the
    plant's.

    Called after every migrate (`post_migrate`), the way Django lays down its own permissions and content
    types: the rows are upkeep that the code relies on, they come back after the tables were emptied, and a
    later version that knows one skill more needs no migration for it. A data migration would run only once.
    """
    try:
        model = apps.get_model("training", "Skill")
    except LookupError:  # migrated back to before the table existed
        return
    rows = model.objects.using(using)
    present = {skill.code: skill for skill in rows.all()}
    missing = [standard for standard in STANDARD_SKILLS if standard.code not in present]
    for standard in missing:
        present[standard.code] = rows.create(
            code=standard.code,
            name=standard.name,
            kind=standard.kind,
            valid_months=standard.valid_months,
            order=10 * (1 + STANDARD_SKILLS.index(standard)),
        )
    for standard in missing:
        present[standard.code].needs.set([present[code] for code in standard.needs])

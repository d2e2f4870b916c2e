"""The skills every installation starts with, and how they get into the database.

Levels, what they need, and how long they last are our own defaults; no standard sets them for this work,
and the plant may change the months. Teach and Assess also need the level that is taught: that depends on
the course, so it is asked where a course is given or a person is assessed, not here.
"""

from dataclasses import asdict, dataclass
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
    currency_kind: str = ""
    currency_count: int = 0
    currency_months: int = 0
    joint_marking_months: int = 0
    course_minutes: int = 0
    supervised_jobs: int = 0
    test_questions: int = 0
    test_pass_percent: int = 0
    test_safety_all_right: bool = False
    practicals: int = 0
    practical: str = ""

    def figures(self) -> dict[str, Any]:
        """What the plant may change later, and the name."""
        return {name: value for name, value in asdict(self).items() if name not in ("code", "needs")}


_ROOM: dict[str, Any] = {
    "course_minutes": 60,
    "test_questions": 10,
    "test_pass_percent": 90,
    "practicals": 1,
    "practical": "count, torn piece and missing piece, as a drill",
}
STANDARD_SKILLS = (
    StandardSkill(AWARE, "Aware", "level", 24, course_minutes=45, test_questions=10, test_pass_percent=80),
    StandardSkill(
        APPLY,
        "Apply",
        "level",
        12,
        (AWARE,),
        currency_kind="apply",
        currency_count=2,
        currency_months=6,
        course_minutes=180,
        supervised_jobs=3,
        test_questions=20,
        test_pass_percent=80,
        test_safety_all_right=True,
        practicals=1,
        practical="fifteen observed steps, all critical ones done",
    ),
    StandardSkill(
        CHECK,
        "Check",
        "level",
        12,
        (APPLY,),
        currency_kind="check",
        currency_count=4,
        currency_months=12,
        course_minutes=90,
        supervised_jobs=3,
        test_questions=15,
        test_pass_percent=85,
        practicals=1,
        practical="a roller with six planted faults, at least five found",
    ),
    StandardSkill(
        SIZE,
        "Size",
        "level",
        24,
        (AWARE,),
        currency_kind="study",
        currency_count=1,
        currency_months=12,
        course_minutes=480,
        supervised_jobs=2,
        test_questions=25,
        test_pass_percent=80,
        practicals=3,
        practical="one line walk, one sizing, one case where tape is no answer",
    ),
    StandardSkill(
        TEACH,
        "Teach",
        "level",
        24,
        currency_kind="teach",
        currency_count=2,
        currency_months=12,
        joint_marking_months=12,
        course_minutes=240,
        practicals=1,
        practical="a session observed",
    ),
    StandardSkill(
        ASSESS,
        "Assess",
        "level",
        24,
        currency_kind="assess",
        currency_count=2,
        currency_months=12,
        joint_marking_months=12,
        course_minutes=240,
        practicals=2,
        practical="two joint markings, at least 90 % agreement",
    ),
    # The add-ons are built on Apply: whose Apply is suspended does not count tape in a clean room either.
    StandardSkill(FOOD, "Food room", "add-on", 12, (APPLY,), **_ROOM),
    StandardSkill(MEDICAL, "Medical room", "add-on", 12, (APPLY,), **_ROOM),
    StandardSkill(
        HOT, "Hot roller", "add-on", 12, (APPLY,), course_minutes=60, practicals=1, practical="a hot roller, watched"
    ),
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
    columns = {column.name for column in model._meta.fields}  # fewer, where an older version is migrated back to
    present = {skill.code: skill for skill in rows.all()}
    missing = [standard for standard in STANDARD_SKILLS if standard.code not in present]
    for standard in missing:
        figures = {name: value for name, value in standard.figures().items() if name in columns}
        order = 10 * (1 + STANDARD_SKILLS.index(standard))
        present[standard.code] = rows.create(code=standard.code, order=order, **figures)
    for standard in missing:
        present[standard.code].needs.set([present[code] for code in standard.needs])

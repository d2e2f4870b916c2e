"""Computing and keeping verdicts."""

from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from calcs import VERSION
from calcs.case import CaseError, parse_case
from calcs.limits import LimitError, Limits
from calcs.verdict import check
from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import PathStep, ProductVersion
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.models import Calculation, LimitSet
from rollers.queries import newest_limit_set
from rollers.readiness import present_limits
from rollers.web_in_span import numbers_of


def calculate(
    case: dict[str, Any], *, version: ProductVersion, step: PathStep, by: Person | None, at: datetime
) -> Calculation:
    """Judge a case by the present limits and keep inputs, answer, limits version and calcs version together.

    The numbers of the span in two dimensions are kept under `span`; the trough limit of the span, which takes
    seconds, is not among them: the same case gives it whenever it is asked for.

    Raises
    ------
    Refused
        The case cannot be computed; the sentence names the field.
    """
    limits = present_limits()
    try:
        result = check(parse_case(case), limits).as_dict() | {"span": numbers_of(case)}
    except CaseError as trouble:
        sentence = f"{step.position} for {version.product} cannot be computed: {trouble.sentence}"
        raise Refused("cannot-compute", sentence, field=trouble.field) from None
    return Calculation.objects.create(
        product_version=version,
        step=step,
        case=case,
        result=result,
        verdict=result["verdict"],
        limits_version=limits.version,
        calcs_version=VERSION,
        at=at,
        by=by,
    )


@transaction.atomic
def set_limits(
    changes: dict[str, dict[str, Any]], *, reason: str, engineer: Confirmation, qa: Confirmation, at: datetime
) -> LimitSet:
    """Change limits: engineer and QA sign together; stored verdicts keep the limits they were judged by."""
    require_role(engineer.person, Role.ENGINEER, at=at, act="Changing limits")
    require_role(qa.person, Role.QA, at=at, act="Changing limits")
    if engineer.person.pk == qa.person.pk:
        raise Refused("same-person", "Engineer and QA must be two persons. Ask a colleague to sign.")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the limits change, at least a short sentence.", field="reason")
    before = newest_limit_set()
    number = (before.number if before else 0) + 1
    stored = present_limits().as_dict() | {"version": f"plant {number}"}
    for name, change in changes.items():
        stored["limits"].setdefault(name, {}).update(change)
    try:
        limits = Limits.from_dict(stored).as_dict()
    except LimitError as trouble:
        raise Refused("bad-limit", str(trouble)) from None
    made = LimitSet(number=number, limits=limits, reason=reason, at=at)
    content = {"limits": limits, "reason": reason}
    made.engineer_signature = sign(engineer, meaning="limits changed, engineer", subject=made, content=content)
    made.qa_signature = sign(qa, meaning="limits changed, QA", subject=made, content=content)
    try:
        with transaction.atomic():
            made.save(force_insert=True)
    except IntegrityError:  # of two who change them at once, the second
        raise Conflict("changed", "The limits were changed since you looked. Read them again, then sign.") from None
    record(
        stream="limits",
        action="set-limits",
        subject=made,
        sentence=f"limits version {number}: {', '.join(sorted(changes))} changed",
        by=engineer.person,
        at=at,
        facts={"changes": changes, "with": qa.person.staff_no, "digest": made.engineer_signature.digest},
        reason=reason,
    )
    return made

"""Changing the settings of tape control: engineer and QA together."""

import math
from collections.abc import Mapping
from datetime import datetime

from django.db import IntegrityError, transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.people.access import require_role
from plant.people.models import Role
from rollers.control import BY_KEY, controls
from rollers.models import ControlSet


@transaction.atomic
def set_controls(
    changes: Mapping[str, float], *, reason: str, engineer: Confirmation, qa: Confirmation, at: datetime
) -> ControlSet:
    """A new version of the settings. What was judged before keeps the version it was judged by."""
    require_role(engineer.person, Role.ENGINEER, at=at, act="Changing the settings of tape control")
    require_role(qa.person, Role.QA, at=at, act="Changing the settings of tape control")
    if engineer.person.pk == qa.person.pk:
        raise Refused("same-person", "Engineer and QA must be two persons. Ask a colleague to sign.")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the settings change, at least a short sentence.", field="reason")
    before = controls()
    for key, value in changes.items():
        _refuse_bad(key, value)
    changed = {key: float(value) for key, value in changes.items() if float(value) != before[key]}
    if not changed:
        raise Refused("nothing", "No setting differs from the present one. Change a figure first.")
    newest = ControlSet.objects.order_by("-number").first()
    made = ControlSet(
        number=(newest.number if newest else 0) + 1, values=before | changed, reason=reason.strip(), at=at
    )
    content = {"values": {key: str(value) for key, value in made.values.items()}, "reason": made.reason}
    made.engineer_signature = sign(engineer, meaning="control settings, engineer", subject=made, content=content)
    made.qa_signature = sign(qa, meaning="control settings, QA", subject=made, content=content)
    try:
        with transaction.atomic():
            made.save(force_insert=True)
    except IntegrityError:  # of two who change them at once, the second
        raise Conflict("changed", "The settings were changed since you looked. Read them again, then sign.") from None
    record(
        stream="limits",
        action="set-controls",
        subject=made,
        sentence=f"control settings version {made.number}: {', '.join(sorted(changed))} changed",
        by=engineer.person,
        at=at,
        facts={
            "before": {key: str(before[key]) for key in changed},
            "after": {key: str(value) for key, value in changed.items()},
            "with": qa.person.staff_no,
            "digest": made.engineer_signature.digest,
        },
        reason=made.reason,
    )
    return made


def _refuse_bad(key: str, value: float) -> None:
    known = BY_KEY.get(key)
    if known is None:
        raise Refused("unknown", f"{key!r} is no setting. Choose one from the page.", field=key)
    if not math.isfinite(value) or not known.low <= value <= known.high:
        sentence = f"{known.sentence}: type {known.low:g} to {known.high:g} {known.unit}".rstrip() + "."
        raise Refused("bad-setting", sentence, field=key)

"""Overrides: two persons sign live, one rule, one line, a short time. It opens its own deviation and ends by itself."""

from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.models import Line, Position
from plant.floor.queries import shift_at
from plant.people.access import require_role
from plant.people.models import Role
from rollers.control import controls
from rollers.models import Alert, Deviation, Override
from rollers.queries_overrides import passed_before
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.rules_overrides import PASSABLE, REASONS, SHORTEST_REASON, end_of, why_not
from rollers.services.runs import stream_of
from rollers.services.tasks import open_deviation, raise_alert

LIVE = timedelta(minutes=5)


def _kinds(line: Line, position: Position | None, at: datetime) -> set[str]:
    rooms = {position.room_id} if position else set(line.positions.values_list("room", flat=True))
    return set(room_kinds(rooms, at).values())


def _refuse_signers(supervisor: Confirmation, second: Confirmation, kinds: set[str], at: datetime) -> str:
    """Two persons, the right roles, both just now."""
    require_role(supervisor.person, Role.SUPERVISOR, at=at, act="Signing an override")
    strict = any(kind in STRICT for kind in kinds)
    wanted = Role.QA if strict else Role.ENGINEER
    require_role(second.person, wanted, at=at, act="Signing an override as second person")
    if supervisor.person.pk == second.person.pk:
        sentence = f"An override takes two persons. Ask {'QA' if strict else 'a process engineer'} to sign here."
        raise Refused("same-person", sentence, field="other_staff_no")
    if max(at - supervisor.at, at - second.at) > LIVE:
        raise Refused("not-live", "Both sign now, one after the other: a signature from before does not count.")
    return "QA" if strict else "engineer"


@transaction.atomic
def grant_override(
    line: Line,
    code: str,
    *,
    position: Position | None,
    reason_code: str,
    reason: str,
    ends_at: datetime,
    supervisor: Confirmation,
    second: Confirmation,
    at: datetime,
) -> Override:
    """Let one rule pass on one line until the end of the shift at most."""
    kinds = _kinds(line, position, at)
    trouble = why_not(code, kinds)
    if trouble:
        raise Refused("never-passed", trouble, field="code")
    second_role = _refuse_signers(supervisor, second, kinds, at)
    if reason_code not in REASONS:
        raise Refused("reason-code", f"Choose a reason: {', '.join(REASONS.values())}.", field="reason_code")
    if len(reason.strip()) < SHORTEST_REASON:
        sentence = f"Write the reason, at least {SHORTEST_REASON} characters: it is printed with the run."
        raise Refused("no-reason", sentence, field="reason")
    Line.objects.select_for_update().get(pk=line.pk)
    shift = shift_at(at)
    settings = controls()
    end = end_of(at, ends_at, shift.ends_at if shift else None, settings["override_hours"])
    if end <= at:
        raise Refused("no-time", "The override would end before it begins. Choose a later end.", field="ends_at")
    before = passed_before(line, code, at)
    deviation = open_deviation(
        f"override-{code}"[:40],
        Deviation.Severity.MAJOR if any(kind in STRICT for kind in kinds) else Deviation.Severity.MINOR,
        f"Line {line}: {PASSABLE[code]} was let pass until {end:%Y-%m-%d %H:%M} UTC. {reason.strip()}",
        at=at,
        owner_role=Role.ENGINEER,
        by=supervisor.person,
        line=line,
        position=position,
    )
    made = Override(
        line=line,
        position=position,
        code=code,
        reason_code=reason_code,
        reason=reason.strip(),
        begins_at=at,
        ends_at=end,
        deviation=deviation,
    )
    content = {
        "line": line.code,
        "position": position.code if position else "",
        "rule": code,
        "reason": [reason_code, made.reason],
        "from": at,
        "to": end,
    }
    made.supervisor_signature = sign(supervisor, meaning="override, supervisor", subject=line, content=content)
    made.second_signature = sign(second, meaning=f"override, {second_role}", subject=line, content=content)
    made.save(force_insert=True)
    record(
        stream=stream_of(line),
        action="override",
        subject=made,
        sentence=f"{supervisor.person.name} and {second.person.name} let pass on {line}: {PASSABLE[code]}",
        by=supervisor.person,
        at=at,
        facts={"digest": made.supervisor_signature.digest, "ends_at": end, "code": code},
        reason=made.reason,
    )
    if before + 1 >= settings["overrides_in_30_days"]:
        raise_alert(
            f"override:{line.pk}:{code}:{made.pk}",
            Alert.Level.MAJOR,
            f"Line {line}: {PASSABLE[code]} was let pass {before + 1} times in 30 days.",
            next_action="Ask why it comes back, and have the cause mended",
            for_role=Role.MANAGER,
            at=at,
            line=line,
        )
    return made

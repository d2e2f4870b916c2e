"""Counting against the ledger: a taping, a room, a shift's rollers, a lot. Only QA closes a difference."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import Room
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.access_store import require_hands
from rollers.control import control
from rollers.models import Alert, Application, Deviation, Hold, Reconciliation
from rollers.queries_counting import to_count
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.rules_store import Compared, CountRow, short_pieces
from rollers.services.blocks import settle_blocks
from rollers.services.holds import open_hold_for_missing
from rollers.services.tasks import open_deviation, raise_alert

STREAM = "counts"
MOST = 100000.0


def compared(rows: list[CountRow], counted: Mapping[str, float]) -> list[Compared]:
    """Every row beside what was counted.

    Raises
    ------
    Refused
        Where a row was not counted, or by no number that can be: nothing is taken as counted that was not.
    """
    found = []
    for row in rows:
        number = counted.get(row.key)
        if number is None:
            sentence = f"{row.label}: type what you counted; 0 where there is none. An empty box is no count."
            raise Refused("not-counted", sentence, field=row.key)
        if not 0 <= number <= MOST or (row.kind != "length" and number != round(number)):
            what = "a length in metres" if row.kind == "length" else "a whole number"
            raise Refused("not-a-count", f"{row.label}: type {what}, 0 or more.", field=row.key)
        found.append(Compared(row, number))
    return found


@transaction.atomic
def record_count(
    scope: str, key: str, *, counted: Mapping[str, float], by: Person, at: datetime, cause: str = ""
) -> Reconciliation:
    """Record a count beside what the ledger says now.

    Pieces, reels and knives are exact; lengths off by more than the tolerance are only a hint. A difference opens a
    deviation; in food and medical rooms a missing piece also holds the product and blocks the line.
    """
    require_hands(by, at=at, act="Counting")
    label, rows, rooms = to_count(scope, key)
    if not rows:
        sentence = f"There is nothing to count for {label}: no tape, reel or knife is there by the ledger."
        raise Refused("nothing-to-count", f"{sentence} Something is there all the same? Report it as found tape.")
    found = compared(rows, counted)
    differs = any(one.differs for one in found)
    made = Reconciliation.objects.create(
        scope=scope,
        key=key,
        label=label[:120],
        expected={one.row.key: [one.row.label, one.row.kind, round(one.row.expected, 3)] for one in found},
        counted={one.row.key: one.counted for one in found},
        differs=differs,
        cause=cause.strip()[:300],
        at=at,
        by=by,
    )
    wrong = [one.sentence for one in found if one.differs]
    said = f"{by.name} counted {label}: " + ("; ".join(wrong) if differs else "right")
    facts = {
        "expected": {one.row.key: f"{one.row.expected:g}" for one in found},
        "counted": {one.row.key: f"{one.counted:g}" for one in found},
    }
    record(stream=STREAM, action="count", subject=made, sentence=said, by=by, at=at, facts=facts, reason=cause.strip())
    if differs:
        _follow(made, found, rooms, "; ".join(wrong), by, at)
    return made


def hints(made: Reconciliation) -> list[str]:
    """What to say of lengths that are further off than their tolerance."""
    tolerance = control("length_tolerance_pct")
    rows = [
        Compared(CountRow(key, label, kind, expected), made.counted[key])
        for key, (label, kind, expected) in made.expected.items()
    ]
    return [said for one in rows if (said := one.hint(tolerance))]


def _follow(
    made: Reconciliation, found: list[Compared], rooms: list[Room], wrong: str, by: Person, at: datetime
) -> None:
    """What a difference brings: a hold per taping that is short in a strict room, a deviation, an alert."""
    kinds = room_kinds({room.pk for room in rooms}, at)
    strict = any(kind in STRICT for kind in kinds.values())
    short = short_pieces(found)
    tapings = [int(key.split(":")[1]) for key in short if key.startswith("taping:")]
    applications = Application.objects.filter(pk__in=tapings).select_related("position__line", "position__room")
    clean = [one for one in applications.order_by("pk") if kinds.get(one.position.room_id) in STRICT]
    for application in clean:
        if not Hold.objects.filter(application=application, why=Hold.Why.MISSING, closed_at=None).exists():
            open_hold_for_missing(application, missing=short[f"taping:{application.pk}"], by=by, at=at)
    for line in sorted({one.position.line for one in clean}, key=lambda line: line.pk):
        settle_blocks(line, at=at, by=by)
    first = applications.first()
    deviation = open_deviation(
        "count-differs",
        Deviation.Severity.CRITICAL if strict else Deviation.Severity.MAJOR,
        f"Count of {made.label}: {wrong}.",
        at=at,
        owner_role=Role.QA,
        by=by,
        application=first,
        position=first.position if first else None,
        line=first.position.line if first else None,
    )
    raise_alert(
        f"deviation:{deviation.pk}",
        Alert.Level.CRITICAL if strict else Alert.Level.MAJOR,
        f"Count of {made.label} is not right: {wrong}.",
        next_action="Count again with a second person, then search: floor, guards, trim, waste bag, web path, rolls",
        for_role=Role.QA,
        at=at,
        address=f"/store/counts/{made.pk}/",
        line=first.position.line if first else None,
    )


@transaction.atomic
def close_difference(made: Reconciliation, *, cause: str, confirmation: Confirmation) -> Reconciliation:
    """QA closes a difference with its cause. The count stays as it was; a hold that it opened is closed by itself."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Closing a difference")
    made = Reconciliation.objects.get(pk=made.pk)
    if not made.differs or made.answers_id is not None:
        raise Refused("no-difference", "This count has no difference to close.")
    if made.by_id == by.pk:
        raise Refused("same-person", "You made this count; somebody else of QA closes its difference.")
    if Reconciliation.objects.filter(answers=made).exists():
        raise Conflict("closed", "This difference is closed already. Reload the page.")
    if len(cause.strip()) < 10:
        raise Refused("no-cause", "Say what the cause was and where the piece is, in a sentence.", field="cause")
    content = {"count": made.label, "expected": made.expected, "counted": made.counted, "cause": cause.strip()}
    content = {key: str(value) for key, value in content.items()}
    signature = sign(confirmation, meaning="difference closed", subject=made, content=content)
    answer = Reconciliation.objects.create(
        scope=made.scope,
        key=made.key,
        label=made.label,
        expected=made.expected,
        counted=made.counted,
        differs=True,
        cause=cause.strip()[:300],
        at=at,
        by=by,
        answers=made,
    )
    record(
        stream=STREAM,
        action="close-difference",
        subject=answer,
        sentence=f"{by.name} closed the difference of {made.label}",
        by=by,
        at=at,
        facts={"digest": signature.digest, "count": made.pk},
        reason=cause.strip(),
    )
    return answer

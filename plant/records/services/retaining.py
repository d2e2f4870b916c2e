"""Setting how long records are kept, exporting what is due, and removing it by a signed order."""

import hashlib
import json
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection, transaction

from plant.audit.canonical import canonical
from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import Room, RoomKind
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.records import rules
from plant.records.models import Purged, PurgeOrder, RetentionRule
from plant.records.purging import PURGEABLES

STREAM = "retention"
DEFAULTS = {"records": rules.RECORDS_YEARS, "answers": rules.ANSWERS_YEARS}


@dataclass(frozen=True)
class Kept:
    """How long a matter is kept, and by which signed rule; none means the default."""

    years: int
    rule: RetentionRule | None


def kept_for(matter: str, room: Room | None = None, kind: str = "") -> Kept:
    """The years for a room, or for the whole plant: the longest of default, plant rule, room rule, product life."""
    signed = RetentionRule.objects.filter(matter=matter).exclude(signature=None)
    rows = [signed.filter(room=where).last() for where in ((None, room) if room else (None,))]
    found = [
        (
            rules.years_to_keep(
                medical=kind == RoomKind.MEDICAL,
                set_years=row.years if row else None,
                product_life_years=row.product_life_years if row else None,
                default=DEFAULTS[matter],
            ),
            row,
        )
        for row in rows
    ]
    years, rule = max(found, key=lambda each: each[0])
    return Kept(years, rule)


def rule_content(rule: RetentionRule) -> dict[str, Any]:
    """What QA signs of a rule."""
    room = rule.room.code if rule.room else None
    return {
        "matter": rule.matter,
        "room": room,
        "years": rule.years,
        "product_life_years": rule.product_life_years,
        "reason": rule.reason,
    }


@transaction.atomic
def raise_retention(
    matter: str,
    room: Room | None,
    *,
    years: int,
    product_life_years: int | None,
    reason: str,
    confirmation: Confirmation,
) -> RetentionRule:
    """Keep longer from now on. What was promised is never shortened."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Setting how long records are kept")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why, at least a short sentence: law, customer, product.", field="reason")
    if matter == RetentionRule.Matter.ANSWERS and room is not None:
        raise Refused(
            "no-room", "Test answers belong to persons and not to a room. Leave the room empty.", field="room"
        )
    if not 1 <= years <= rules.LONGEST_YEARS:
        raise Refused("years", f"Type whole years from 1 to {rules.LONGEST_YEARS}.", field="years")
    signed = RetentionRule.objects.select_for_update().filter(matter=matter, room=room).exclude(signature=None)
    last = signed.last()
    floor = max(DEFAULTS[matter], last.years if last else 0, 0 if room is None else kept_for(matter).years)
    life = last.product_life_years if last else None
    if years < floor or (life or 0) > (product_life_years or 0):
        sentence = f"Kept for {floor} years, product life {life or 'not set'}: this is only ever raised."
        raise Refused("only-raised", sentence, field="years" if years < floor else "product_life_years")
    if years == (last.years if last else DEFAULTS[matter]) and product_life_years == life:
        raise Refused("same", "This is how it is kept already. Type more years, or leave it.", field="years")
    rule = RetentionRule.objects.create(
        matter=matter,
        room=room,
        years=years,
        product_life_years=product_life_years,
        reason=reason.strip(),
        set_at=at,
        set_by=by,
    )
    rule.signature = sign(confirmation, meaning="kept longer", subject=rule, content=rule_content(rule))
    rule.save(update_fields=["signature"])
    before = {"years": last.years if last else DEFAULTS[matter], "product_life_years": life}
    facts = rule_content(rule) | {"before": before, "signature": rule.signature.digest}
    record(
        stream=STREAM,
        action="raise-retention",
        subject=rule,
        sentence=f"{rule} from now on",
        by=by,
        at=at,
        facts=facts,
        reason=rule.reason,
    )
    return rule


@transaction.atomic
def export_due(matter: str, *, by: Person, at: datetime) -> tuple[PurgeOrder, bytes]:
    """What has been kept long enough, as a file to keep elsewhere. Removes nothing."""
    require_role(by, Role.QA, Role.KEEPER, at=at, act="Exporting what is due to be removed")
    item, before = PURGEABLES[matter], rules.due_before(at, kept_for(matter).years)
    rows = item.due(before)
    if not rows:
        raise Refused("nothing-due", f"Nothing is older than {before:%Y-%m-%d}. Nothing is exported or removed.")
    listed, lines = [], []
    for row in rows:
        salted = {"row": row, "salt": secrets.token_hex(16)}
        listed.append([row["id"], hashlib.sha256(canonical(salted)).hexdigest()])
        lines.append(canonical(salted))
    file = b"\n".join(lines) + b"\n"
    order = PurgeOrder.objects.create(
        matter=matter,
        before=before,
        listed=listed,
        export_digest=hashlib.sha256(file).hexdigest(),
        exported_at=at,
        exported_by=by,
    )
    facts = {"matter": matter, "before": before, "rows": len(rows), "digest": order.export_digest}
    sentence = f"{by.name} exported {len(rows)} rows that are due to be removed: {item.title}"
    record(stream=STREAM, action="export-due", subject=order, sentence=sentence, by=by, at=at, facts=facts)
    return order, file


def order_content(order: PurgeOrder) -> dict[str, Any]:
    """What QA signs of an order."""
    return {
        "matter": order.matter,
        "before": order.before,
        "rows": order.listed,
        "export_digest": order.export_digest,
        "kept_where": order.kept_where,
        "reason": order.reason,
    }


@transaction.atomic
def purge(order: PurgeOrder, *, kept_where: str, reason: str, confirmation: Confirmation) -> PurgeOrder:
    """Remove the content of the exported rows. The rows stay, each with its digest and the order that emptied it."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Ordering a purge")
    order = PurgeOrder.objects.select_for_update().get(pk=order.pk)
    if order.signature_id is not None:
        raise Conflict("done", "This order was signed and carried out already.")
    if len(kept_where.strip()) < 5:
        raise Refused("not-kept", "Say where the export is kept: nothing is removed without it.", field="kept_where")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why it is removed, at least a short sentence.", field="reason")
    item = PURGEABLES[order.matter]
    ids = [key for key, _ in order.listed]
    due = {row["id"] for row in item.due(rules.due_before(at, kept_for(order.matter).years))}
    if not set(ids) <= due:
        sentence = "Some of these rows are no longer due, or were removed since. Export again, then sign that order."
        raise Conflict("changed", sentence)
    order.kept_where, order.reason = kept_where.strip(), reason.strip()
    order.signature = sign(confirmation, meaning="purge ordered", subject=order, content=order_content(order))
    order.save(update_fields=["kept_where", "reason", "signature"])
    Purged.objects.bulk_create(
        Purged(order=order, table_name=item.table, row_id=key, digest=digest) for key, digest in order.listed
    )
    with connection.cursor() as cursor:
        # The names are those that the applications register; the guard lets only these rows go empty.
        sql = f"UPDATE {item.table} SET {item.column} = NULL WHERE id = %s"  # noqa: S608
        cursor.executemany(sql, [[key] for key in ids])
    item.also(ids)
    facts = {
        "matter": order.matter,
        "rows": len(ids),
        "export_digest": order.export_digest,
        "kept_where": order.kept_where,
        "signature": order.signature.digest,
    }
    record(
        stream=STREAM,
        action="purge",
        subject=order,
        sentence=f"{len(ids)} rows removed by order {order.pk}: {item.title}",
        by=by,
        at=at,
        facts=facts,
        reason=order.reason,
    )
    return order


def digest_in(line: bytes) -> str:
    """The digest of a row, from its line of the export: who keeps the export can prove what was removed."""
    return hashlib.sha256(canonical(json.loads(line))).hexdigest()

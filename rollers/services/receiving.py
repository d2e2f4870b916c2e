"""Deliveries of tape: lots come into quarantine, and each reel gets its label."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from random import Random
from typing import Any

from django.db import transaction

from plant.errors import Refused
from plant.floor.queries import plant_date
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.models import Lot, Reel, ReelMove, TapeStock
from rollers.services.bags import free_label
from rollers.services.lots import UNLABELLED, locked_lot, write_act

LONGEST_REEL_M = 5000.0
MOST_REELS = 200


def _checked_lengths(lengths: Sequence[float]) -> list[float]:
    if not lengths:
        raise Refused("no-reels", "Type the length of each reel, at least one.", field="lengths")
    if len(lengths) > MOST_REELS:
        raise Refused("too-many", f"At most {MOST_REELS} reels are received at once.", field="lengths")
    for length in lengths:
        if not 0 < length <= LONGEST_REEL_M:
            sentence = f"A reel of {length:g} m is not meant: type more than 0 and at most {LONGEST_REEL_M:g} m."
            raise Refused("length", sentence, field="lengths")
    return list(lengths)


@transaction.atomic
def receive_lot(
    *,
    stock: TapeStock,
    code: str,
    lengths_m: Sequence[float],
    by: Person,
    at: datetime,
    random: Random,
    supplier: str = "",
    made_on: date | None = None,
    use_by: date | None = None,
    labels: Sequence[str] = (),
) -> Lot:
    """Take a delivery in: the lot is in quarantine until it is measured and released; each reel gets its label."""
    require_role(by, Role.STOREKEEPER, Role.QA, at=at, act="Receiving a lot")
    code = code.strip()
    if not code or len(code) > 40:
        sentence = (
            "Type the supplier's lot number as it stands on the reel, at most 40 characters. A reel without one "
            "cannot be recalled: take it in as unlabelled."
        )
        raise Refused("no-code", sentence, field="code")
    if made_on and made_on > plant_date(at):
        raise Refused("made-later", "The day it was made lies ahead. Check the date on the carton.", field="made_on")
    if made_on and use_by and use_by <= made_on:
        raise Refused("out-of-order", "It would be past its use-by date when made. Check both dates.", field="use_by")
    return _received(stock, code, lengths_m, by, at, random, labels, supplier=supplier, made_on=made_on, use_by=use_by)


def _received(
    stock: TapeStock,
    code: str,
    lengths_m: Sequence[float],
    by: Person,
    at: datetime,
    random: Random,
    labels: Sequence[str],
    reason: str = "",
    details: Mapping[str, Any] | None = None,
    **fields: Any,
) -> Lot:
    lengths = _checked_lengths(lengths_m)
    TapeStock.objects.select_for_update().get(pk=stock.pk)
    if Lot.objects.filter(stock=stock, code__iexact=code).exists():
        sentence = f"Lot {code} of {stock} is received already. More reels of it came later? Add them to that lot."
        raise Refused("twice", sentence, field="code")
    lot = Lot.objects.create(stock=stock, code=code, received_at=at, received_by=by, **fields)
    made = _reels(lot, lengths, by, at, random, labels)
    write_act(
        lot,
        Lot.Status.QUARANTINED,
        f"{by.name} received lot {code} of {stock}: {len(made)} reels, {sum(lengths):g} m, in quarantine",
        by=by,
        at=at,
        action="receive-lot",
        reason=reason,
        details={"reels": {reel.label: f"{reel.length_m:g}" for reel in made}} | dict(details or {}),
    )
    return lot


def _reels(
    lot: Lot, lengths: list[float], by: Person, at: datetime, random: Random, labels: Sequence[str]
) -> list[Reel]:
    made = []
    for number, length in enumerate(lengths):
        label = labels[number].strip().upper() if number < len(labels) and labels[number] else free_label("R", random)
        if len(label) > 20 or Reel.objects.filter(label__iexact=label).exists():
            sentence = f"Label {label} is on another reel already, or too long. Leave it empty to get a new one."
            raise Refused("label-twice", sentence, field="label")
        reel = Reel.objects.create(lot=lot, label=label, length_m=length)
        ReelMove.objects.create(reel=reel, kind=ReelMove.Kind.RECEIVED, length_m=length, at=at, recorded_at=at, by=by)
        made.append(reel)
    return made


@transaction.atomic
def add_reels(
    lot: Lot, lengths_m: Sequence[float], *, by: Person, at: datetime, random: Random, labels: Sequence[str] = ()
) -> list[Reel]:
    """More reels of a lot came later. They have the lot's status: its release stands for the lot."""
    require_role(by, Role.STOREKEEPER, Role.QA, at=at, act="Receiving reels")
    lot, lengths = locked_lot(lot), _checked_lengths(lengths_m)
    if lot.status in (Lot.Status.RECALLED, Lot.Status.EXPIRED):
        sentence = f"Lot {lot.code} is {lot.get_status_display()}: send the reels back, or ask QA."
        raise Refused("lot-closed", sentence, field="lot")
    made = _reels(lot, lengths, by, at, random, labels)
    status = Lot.Status.QUARANTINED if lot.status == Lot.Status.USED_UP else lot.status
    sentence = f"{by.name} received {len(made)} more reels of lot {lot.code}, {sum(lengths):g} m"
    details = {"reels": {reel.label: f"{reel.length_m:g}" for reel in made}}
    write_act(lot, status, sentence, by=by, at=at, action="add-reels", details=details)
    return made


@transaction.atomic
def take_in_unlabelled(
    stock: TapeStock, length_m: float, *, where: str, by: Person, at: datetime, random: Random
) -> Lot:
    """A reel without a label: quarantined under a new one and never released, for nobody could recall it."""
    require_role(by, Role.STOREKEEPER, Role.QA, at=at, act="Taking in a reel without a label")
    if len(where.strip()) < 3:
        raise Refused("no-place", "Say where it was found.", field="where")
    return _received(
        stock,
        free_label("R", random).replace("R-", "unlabelled "),
        [length_m],
        by,
        at,
        random,
        (),
        reason=f"Found without a label: {where.strip()}",
        details={UNLABELLED: True},
    )

"""Lots of tape: measured, released, held, expired, used up. How they come in stands in `receiving`."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.models import RoomKind
from plant.floor.queries import plant_date
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from plant.web.quantities import Typed, digits, stored
from rollers.control import control
from rollers.models import Lot, LotAct, TapeStock
from rollers.queries_store import lot_ledger
from rollers.rules_store import NEARLY_NOTHING_M, thickness_off_pct
from rollers.services.stocks import STOCK_BOUNDS
from rollers.services.stocks import STREAM as STOCKS_STREAM

CLEAN = {RoomKind.FOOD, RoomKind.MEDICAL}
OPEN = (Lot.Status.QUARANTINED, Lot.Status.RELEASED, Lot.Status.HELD)
UNLABELLED = "unlabelled"


def stream_of(lot: Lot) -> str:
    """The chain of a lot and its reels."""
    return f"lot:{lot.pk}"


def locked_lot(lot: Lot) -> Lot:
    """The lot, held until the act is over."""
    return Lot.objects.select_for_update(of=("self",)).select_related("stock").get(pk=lot.pk)


def write_act(
    lot: Lot,
    status: str,
    sentence: str,
    *,
    by: Person | None,
    at: datetime,
    action: str,
    reason: str = "",
    details: Mapping[str, Any] | None = None,
) -> LotAct:
    """A decision about a lot: the status it leads to, and its event."""
    lot.status = Lot.Status(status)
    lot.save(update_fields=["status", "measured_thickness_mm", "contaminating"])
    act = LotAct.objects.create(
        lot=lot, status=status, at=at, by=by, reason=reason.strip()[:300], details=dict(details or {})
    )
    facts = {"status": str(status)} | dict(details or {})
    record(
        stream=stream_of(lot),
        action=action,
        subject=lot,
        sentence=sentence,
        by=by,
        at=at,
        facts=facts,
        reason=reason.strip(),
    )
    return act


@transaction.atomic
def measure_lot(lot: Lot, thickness: Typed | float, *, by: Person, at: datetime) -> Lot:
    """Record a lot's thickness. Too far off its stock the lot is held; else new sizings use what is measured."""
    require_role(by, Role.STOREKEEPER, Role.ENGINEER, Role.QA, at=at, act="Measuring a lot")
    lot = locked_lot(lot)
    measured, typed = stored("thickness_mm", thickness)
    low, high = STOCK_BOUNDS["thickness_mm"]
    if measured is None or typed is None or not low <= measured <= high:
        sentence = f"A tape is {low:g} to {high:g} mm thick. Check the figure and its unit."
        raise Refused("out-of-range", sentence, field="thickness_mm")
    off, most = thickness_off_pct(measured, lot.stock.thickness_mm), control("thickness_off_pct")
    lot.measured_thickness_mm = measured
    details = {"thickness_mm": digits(measured), "typed": [typed.value, typed.unit], "off_pct": f"{off:.1f}"}
    said = f"{by.name} measured lot {lot.code} of {lot.stock}: {measured:g} mm, {off:.1f} % off"
    if off > most + 1e-9:
        status = Lot.Status.HELD if lot.status in OPEN else lot.status
        reason = f"Measured {measured:g} mm, the stock has {lot.stock.thickness_mm:g} mm: more than {most:g} % off"
        write_act(lot, status, f"{said}; held", by=by, at=at, action="measure-lot", reason=reason, details=details)
        return lot
    write_act(lot, lot.status, said, by=by, at=at, action="measure-lot", details=details)
    _widen(lot.stock, measured, lot, by, at)
    return lot


def _widen(stock: TapeStock, measured: float, lot: Lot, by: Person, at: datetime) -> None:
    """The stock's range holds every lot that is inside the tolerance, so that the thickest is what sizing tests."""
    stock = TapeStock.objects.select_for_update().get(pk=stock.pk)
    low, high = stock.thickness_min_mm or stock.thickness_mm, stock.thickness_max_mm or stock.thickness_mm
    if low <= measured <= high:
        return
    field = "thickness_min_mm" if measured < low else "thickness_max_mm"
    before = getattr(stock, field)
    setattr(stock, field, measured)
    stock.typed = stock.typed | {field: {"value": digits(measured), "unit": "mm"}}
    stock.save(update_fields=[field, "typed"])
    record(
        stream=STOCKS_STREAM,
        action="change-stock",
        subject=stock,
        sentence=f"tape stock {stock.code}: lot {lot.code} measures {measured:g} mm; new sizings use it",
        by=by,
        at=at,
        facts={"before": {field: before}, "after": {field: measured}},
        reason=f"Measured on lot {lot.code}",
    )


def is_unlabelled(lot: Lot) -> bool:
    """Whether it came in without a label."""
    return LotAct.objects.filter(lot=lot, details__has_key=UNLABELLED).exists()


def _content(lot: Lot) -> dict[str, Any]:
    return {
        "stock": lot.stock.code,
        "lot": lot.code,
        "supplier": lot.supplier,
        "use_by": lot.use_by,
        "thickness_mm": lot.measured_thickness_mm,
        "contact_statement": lot.stock.contact_statement,
        "rooms": lot.stock.room_kinds,
    }


def _refuse_release(lot: Lot, at: datetime) -> None:
    if lot.status == Lot.Status.RELEASED:
        raise Refused("released", f"Lot {lot.code} is released already. Reload the page.")
    if lot.status not in OPEN:
        word = lot.get_status_display()
        raise Refused("lot-closed", f"Lot {lot.code} is {word} and cannot be released. Ask QA what to do with it.")
    if is_unlabelled(lot):
        raise Refused("unlabelled", "A reel that came without a label is never released: scrap it, with QA.")
    if lot.use_by and lot.use_by < plant_date(at):
        raise Refused("lot-expired", f"Lot {lot.code} was to be used by {lot.use_by}. Scrap it or send it back.")
    if lot.measured_thickness_mm is None:
        sentence = f"Measure the thickness of lot {lot.code} first: the wraps of every recipe rest on it."
        raise Refused("not-measured", sentence)
    off = thickness_off_pct(lot.measured_thickness_mm, lot.stock.thickness_mm)
    if off > control("thickness_off_pct") + 1e-9:
        sentence = (
            f"Lot {lot.code} is {off:.1f} % off the thickness of {lot.stock}. It stays on hold: send it back, or have "
            "the process engineer enter it as a stock of its own."
        )
        raise Refused("thickness-off", sentence)


@transaction.atomic
def release_lot(lot: Lot, *, confirmation: Confirmation, second: Confirmation | None = None, reason: str = "") -> Lot:
    """Release a lot for use.

    Tape for food or medical rooms, and any lot on hold, is released by QA. Tape for general rooms only: by QA, or by
    the storekeeper and a second person, both with their own secret.
    """
    by, at = confirmation.person, confirmation.at
    lot = locked_lot(lot)
    clean, held = CLEAN & set(lot.stock.room_kinds), lot.status == Lot.Status.HELD
    if clean or held or Role.QA in roles_of(by, at):
        require_role(by, Role.QA, at=at, act="Releasing this lot")
    else:
        require_role(by, Role.STOREKEEPER, at=at, act="Releasing a lot for general rooms")
        if second is None or second.person.pk == by.pk:
            sentence = "A second person looks at label, date and thickness and signs too; or QA releases it alone."
            raise Refused("second-person", sentence, field="second")
    _refuse_release(lot, at)
    if held and len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the hold may end, in a sentence.", field="reason")
    signatures = [sign(confirmation, meaning="lot released", subject=lot, content=_content(lot))]
    if second is not None:
        signatures.append(sign(second, meaning="lot looked at", subject=lot, content=_content(lot)))
    write_act(
        lot,
        Lot.Status.RELEASED,
        f"{by.name} released lot {lot.code} of {lot.stock}",
        by=by,
        at=at,
        action="release-lot",
        reason=reason,
        details={"signatures": [signature.digest for signature in signatures]},
    )
    return lot


@transaction.atomic
def hold_lot(lot: Lot, *, reason: str, by: Person, at: datetime) -> Lot:
    """Put a lot on hold: nothing is cut from it until QA decides. Anybody of the store, the shift or QA may."""
    require_role(by, Role.STOREKEEPER, Role.SUPERVISOR, Role.ENGINEER, Role.QA, at=at, act="Holding a lot")
    lot = locked_lot(lot)
    if lot.status not in (Lot.Status.QUARANTINED, Lot.Status.RELEASED):
        raise Refused("lot-status", f"Lot {lot.code} is {lot.get_status_display()} already.")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say what is wrong with it, in a sentence.", field="reason")
    write_act(
        lot, Lot.Status.HELD, f"{by.name} put lot {lot.code} on hold", by=by, at=at, action="hold-lot", reason=reason
    )
    return lot


@transaction.atomic
def expire_lots(at: datetime) -> list[Lot]:
    """Lots past their use-by date expire, by the clock. Safe to run twice."""
    found = []
    today = plant_date(at)
    for row in Lot.objects.filter(status__in=OPEN, use_by__lt=today).order_by("pk"):
        lot = locked_lot(row)
        if lot.status not in OPEN:
            continue
        sentence = f"lot {lot.code} of {lot.stock} is past its use-by date {lot.use_by}"
        write_act(lot, Lot.Status.EXPIRED, sentence, by=None, at=at, action="expire-lot")
        found.append(lot)
    return found


@transaction.atomic
def close_used_up(lot: Lot, *, by: Person, at: datetime) -> Lot:
    """Nothing is left on any reel of it: the lot is used up."""
    require_role(by, Role.STOREKEEPER, Role.QA, at=at, act="Closing a lot")
    lot = locked_lot(lot)
    left = lot_ledger(lot).length.on_reels
    if left > NEARLY_NOTHING_M:
        raise Refused("not-empty", f"{left:.2f} m are on its reels by the ledger. Scrap or count them first.")
    if lot.status not in OPEN:
        raise Refused("lot-status", f"Lot {lot.code} is {lot.get_status_display()} already.")
    write_act(lot, Lot.Status.USED_UP, f"{by.name} closed lot {lot.code}: used up", by=by, at=at, action="use-up-lot")
    return lot

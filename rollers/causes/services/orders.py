"""Orders to maintenance out of a cause sheet, and the question that comes back when one is done."""

from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.causes.models import CauseSheet, Order
from rollers.causes.services.sightings import stream_of
from rollers.models import Task
from rollers.services.asking_again import ask_again
from rollers.services.tasks import close_task, open_task


@transaction.atomic
def order_work(sheet: CauseSheet, work: str, *, by: Person, at: datetime, note: str = "", days: int = 14) -> Order:
    """Ask maintenance to align, balance, clean, regrind or look at the bearings of the roller of a sheet."""
    require_role(by, Role.ENGINEER, at=at, act="Ordering work on a roller")
    if work not in Order.Work.values:
        raise Refused("work", "Choose what maintenance is asked for.", field="work")
    CauseSheet.objects.select_for_update().get(pk=sheet.pk)
    if Order.objects.filter(sheet=sheet, work=work, task__closed_at=None).exists():
        raise Conflict("ordered", f"This is ordered already: {Order.Work(work).label}. Wait for its outcome.")
    position, number = sheet.position, Order.objects.filter(sheet=sheet, work=work).count() + 1
    sentence = f"{position.code}: {Order.Work(work).label}." + (f" {note.strip()}" if note.strip() else "")
    task = open_task(
        Task.Kind.MAINTENANCE,
        f"cause-order:{sheet.pk}:{work}:{number}",
        sentence,
        at=at,
        by=by,
        for_role=Role.MAINTENANCE,
        due=at + timedelta(days=days),
        line=position.line,
        position=position,
    )
    made = Order.objects.create(sheet=sheet, work=work, task=task, at=at, by=by)
    record(
        stream=stream_of(position.line),
        action="order-work",
        subject=made,
        sentence=f"{by.name} ordered: {sentence}",
        by=by,
        at=at,
        facts={"task": task.pk, "sheet": sheet.pk},
    )
    return made


@transaction.atomic
def finish_order(order: Order, *, outcome: str, by: Person, at: datetime) -> Order:
    """Maintenance says what came of it; the engineer is asked whether the tape is still needed."""
    order = (
        Order.objects.select_for_update(of=("self",)).select_related("sheet__position__line", "task").get(pk=order.pk)
    )
    order.task = close_task(order.task, outcome=outcome, by=by, at=at)
    return ask_back(order, by=by, at=at)


@transaction.atomic
def ask_back(order: Order, *, by: Person | None, at: datetime) -> Order:
    """Open the question for the engineer, and where tape is on, the run without it. Safe to call twice."""
    order = (
        Order.objects.select_for_update(of=("self",)).select_related("sheet__position__line", "task").get(pk=order.pk)
    )
    if order.question_id is not None or order.task.closed_at is None:
        return order
    position = order.sheet.position
    done = f"{position.code}: {order.get_work_display()} is done ({order.task.outcome})."
    order.question = ask_again(position, done, key=str(order.pk), cause_fixed=True, by=by, at=at)
    order.save(update_fields=["question"])
    return order


def ask_back_all(at: datetime) -> int:
    """Orders that were closed from a list of tasks get their question too."""
    waiting = Order.objects.filter(question=None, task__closed_at__isnull=False)
    found = list(waiting)
    for order in found:
        ask_back(order, by=None, at=at)
    return len(found)

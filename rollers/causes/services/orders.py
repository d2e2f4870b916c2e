"""Orders to maintenance out of a cause sheet, and the question that comes back when one is done."""

from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.causes.models import CauseSheet, Order
from rollers.causes.services.sightings import stream_of
from rollers.control import control
from rollers.models import Task
from rollers.queries import mounted
from rollers.queries_registry import tape_state
from rollers.services.tasks import close_task, open_task

ANSWER_WITHIN = timedelta(days=3)  # our proposal


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


def _taped(order: Order) -> bool:
    mounting = mounted([order.sheet.position]).get(order.sheet.position_id)
    return mounting is not None and tape_state(mounting.body) in ("taped", "partial")


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
    position, taped = order.sheet.position, _taped(order)
    place: dict[str, Any] = {"line": position.line, "position": position}
    done = f"{position.code}: {order.get_work_display()} is done ({order.task.outcome})."
    ask = "Is the tape still needed?" if taped else "Does it still wrinkle? Look again before any tape."
    order.question = open_task(
        Task.Kind.STILL_NEEDED,
        f"cause-question:{order.pk}",
        f"{done} {ask}",
        at=at,
        by=by,
        for_role=Role.ENGINEER,
        due=at + ANSWER_WITHIN,
        **place,
    )
    order.save(update_fields=["question"])
    if taped:
        open_task(
            Task.Kind.RUN_WITHOUT,
            f"run-without:{order.pk}",
            f"{done} Run once without the tape and look: the cause may be gone.",
            at=at,
            by=by,
            for_role=Role.SUPERVISOR,
            due=at + timedelta(days=control("run_without_days")),
            **place,
        )
    return order


def ask_back_all(at: datetime) -> int:
    """Orders that were closed from a list of tasks get their question too."""
    waiting = Order.objects.filter(question=None, task__closed_at__isnull=False)
    found = list(waiting)
    for order in found:
        ask_back(order, by=None, at=at)
    return len(found)

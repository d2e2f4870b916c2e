"""What the clock brings: alerts, escalations, late checks, changed data. Every function is safe to run twice."""

from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import record
from plant.floor.models import Line, RoomClass, Run
from plant.people.models import Role
from rollers.control import controls
from rollers.models import Alert, Application, Deviation, Override, RecipeProduct, SetPoint, Task
from rollers.queries_window import outside_since_of
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.rules_window import MEANING
from rollers.services.blocks import alert_old_blocks, settle_blocks
from rollers.services.tasks import LEADERS, open_deviation, open_task, raise_alert

SOON = timedelta(minutes=15)


def watch_lines(at: datetime) -> None:
    """Blocks as they are now, and everything about running lines that time alone changes."""
    for line in Line.objects.filter(in_use=True):
        settle_blocks(line, at=at)
    alert_old_blocks(at)
    for run in Run.objects.filter(state=Run.State.RELEASED).select_related("line", "product_version__product", "path"):
        _alert_outside(run, at)
        _alert_restart(run, at)


def _alert_outside(run: Run, at: datetime) -> None:
    for quantity, since in outside_since_of(run).items():
        if since is None:
            continue
        change = SetPoint.objects.filter(run=run, quantity=quantity, at__gte=since).order_by("at").first()
        side = "below" if quantity == SetPoint.Quantity.TENSION else "above"
        raise_alert(
            f"outside:{change.pk if change else run.pk}",
            Alert.Level.MAJOR,
            f"Line {run.line}: {quantity} {side} the recipes' window. {MEANING[quantity, side]}",
            next_action="Bring it back, or have a person with Size test the recipes there",
            for_role=Role.SUPERVISOR,
            at=at,
            due_at=since,
            address=f"/board/{run.line.code}/",
            line=run.line,
        )


def _alert_restart(run: Run, at: datetime) -> None:
    """A run that goes on for longer than its restart takes, with steps that nobody recorded."""
    settings = controls()
    minutes = settings["crawl_minutes"] + settings["half_minutes"] + settings["full_minutes"] + 30
    if run.released_at is None or at - run.released_at < timedelta(minutes=minutes):
        return
    rows = Application.objects.filter(
        position__steps__path=run.path, verified_at=None, state__in=["checked", "restart"]
    )
    for application in rows.select_related("position").distinct():
        raise_alert(
            f"restart:{application.pk}:{run.pk}",
            Alert.Level.MINOR,
            f"{application.position}: the restart steps of this run are not all recorded.",
            next_action="Record crawl, half speed and full speed with the grade seen",
            for_role=Role.OPERATOR,
            at=at,
            due_at=run.released_at + timedelta(minutes=minutes),
            address=f"/tablet/roller/{application.position.code}/",
            line=run.line,
        )


def watch_overrides(at: datetime) -> None:
    """Shortly before an override ends, who signed it is told: then the block is back."""
    for row in Override.objects.filter(begins_at__lte=at, ends_at__gt=at, ends_at__lte=at + SOON).select_related(
        "line"
    ):
        raise_alert(
            f"override-ends:{row.pk}",
            Alert.Level.MAJOR,
            f"Line {row.line}: the override of “{row.code}” ends {row.ends_at:%H:%M} UTC; the block is back then.",
            next_action="Clear the cause, or stop the line in time",
            for_role=Role.SUPERVISOR,
            at=at,
            due_at=row.ends_at - SOON,
            address=f"/board/{row.line.code}/",
            line=row.line,
        )


def watch_checks(at: datetime) -> None:
    """In general rooms the second person's check may follow until the end of the shift; then it is a deviation."""
    # In food and medical rooms the release waits for the check, so nothing runs without it.
    late = Application.objects.filter(checked_at=None, applied_at__lte=at - timedelta(hours=1))
    late = late.filter(state__in=["applied", "measured", "restart"]).exclude(deviations__code="check-late")
    for application in late.select_related("position__line", "position__room", "applier"):
        if not _shift_is_over(application, at):
            continue
        kind = room_kinds({application.position.room_id}, at)[application.position.room_id]
        open_deviation(
            "check-late",
            Deviation.Severity.MAJOR if kind in STRICT else Deviation.Severity.MINOR,
            f"{application.position}: no second person checked this tape by the end of the shift.",
            at=at,
            owner_role=Role.SUPERVISOR,
            line=application.position.line,
            position=application.position,
            application=application,
            person=application.applier,
        )


def _shift_is_over(application: Application, at: datetime) -> bool:
    """Whether the shift of the taping has ended; without planned shifts, eight hours count as one."""
    begun = application.applied_at
    if begun is None:
        return False
    shifts = application.applier.shifts.filter(starts_at__lte=begun, ends_at__gt=begun) if application.applier else None
    shift = shifts.order_by("-ends_at").first() if shifts is not None else None
    return at >= (shift.ends_at if shift else begun + timedelta(hours=8))


def watch_product_data(at: datetime) -> None:
    """Recipes in force that were computed from data that changed since: each is a task with a date."""
    rows = RecipeProduct.objects.filter(in_force=True, calculation__product_version__current=False)
    days = controls()["re_check_days"]
    for row in rows.select_related("position__line", "product", "version__recipe", "version"):
        newest = row.product.versions.get(current=True)
        if row.version.re_checks.filter(details__product_version=newest.pk).exists():
            continue
        open_task(
            Task.Kind.RE_CHECK,
            f"re-check:{row.version_id}:{newest.pk}",
            f"{row.position}: data of {row.product} changed since its recipe was computed. Test it again or size anew.",
            at=at,
            for_role=Role.ENGINEER,
            due=newest.entered_at + timedelta(days=days),
            line=row.position.line,
            position=row.position,
        )


def watch_room_classes(at: datetime) -> None:
    """On the day a room becomes stricter, every taping in it is looked at again: what fails there is named."""
    # Read from the last two days, so that a night without the program loses none.
    started = RoomClass.objects.filter(valid_from__lte=at, valid_from__gt=at - timedelta(days=2))
    for row in started.select_related("room"):
        if row.kind not in STRICT or not RoomClass.objects.filter(room=row.room, valid_to=row.valid_from).exists():
            continue
        open_ = Application.objects.filter(position__room=row.room).exclude(state__in=[*Application.ENDED, "planned"])
        for application in open_.select_related("position__line", "recipe_version__stock"):
            stock = application.recipe_version.stock if application.recipe_version else None
            if stock is not None and row.kind in stock.room_kinds and application.checked_at:
                continue
            open_task(
                Task.Kind.STOP_AND_FIX,
                f"room-class:{row.pk}:{application.pk}",
                f"room {row.room} is {row.kind} since {row.valid_from:%Y-%m-%d}: this tape is not permitted there or "
                "not checked by a second person. Take it off, or have it checked.",
                at=at,
                for_role=Role.SUPERVISOR,
                due=row.valid_from,
                line=application.position.line,
                position=application.position,
                application=application,
            )


@transaction.atomic
def escalate(at: datetime) -> int:
    """Alerts that nobody took in time go one up, once."""
    settings = controls()
    waits = {
        Alert.Level.CRITICAL: timedelta(minutes=settings["escalate_critical_minutes"]),
        Alert.Level.MAJOR: timedelta(minutes=settings["escalate_major_minutes"]),
    }
    count = 0
    rows = Alert.objects.select_for_update().filter(acknowledged_at=None, escalated_at=None, over_at=None)
    for alert in rows.filter(level__in=list(waits)).order_by("pk"):
        if at - alert.raised_at < waits[Alert.Level(alert.level)]:
            continue
        alert.escalated_at, alert.escalated_to = at, LEADERS.get(Role(alert.for_role), Role.MANAGER)
        alert.save(update_fields=["escalated_at", "escalated_to"])
        sentence = f"nobody took it, so it goes to the {Role(alert.escalated_to).label}: {alert.sentence}"
        record(stream="alerts", action="escalate-alert", subject=alert, sentence=sentence, by=None, at=at)
        count += 1
    return count

"""What the clock does in the store: lots expire, and use-by dates and contact statements are told in time."""

from datetime import date, datetime, timedelta

from django.db import transaction

from plant.floor.queries import plant_date
from plant.people.models import Role
from rollers.models import Alert, Lot, TapeStock
from rollers.rules import STRICT
from rollers.services.lots import OPEN, expire_lots
from rollers.services.tasks import raise_alert

AHEAD = (30, 60)  # days, the nearest first; our proposal


def watch_store(at: datetime) -> None:
    """Everything that is due in the store. Safe to run twice."""
    expire_lots(at)
    tell_dates(at)


def _step(ends: date, today: date) -> int | None:
    """The smallest warning that is due: 30 or 60 days before; none while it is far."""
    return next((days for days in AHEAD if ends - today <= timedelta(days=days)), None)


@transaction.atomic
def tell_dates(at: datetime) -> None:
    """Tell QA of contact statements and the store of use-by dates that come near, once for each step."""
    today = plant_date(at)
    for stock in TapeStock.objects.exclude(contact_statement_ends=None).order_by("pk"):
        ends = stock.contact_statement_ends
        if ends is None or not set(STRICT) & set(stock.room_kinds) or (step := _step(ends, today)) is None:
            continue
        raise_alert(
            f"statement:{stock.pk}:{ends}:{step}",
            Alert.Level.MAJOR if step == AHEAD[0] else Alert.Level.MINOR,
            f"The contact statement of tape {stock} ends on {ends}; after that it is refused in clean rooms.",
            next_action="Ask the supplier for a new statement",
            for_role=Role.QA,
            at=at,
            address=f"/stocks/{stock.code}/",
        )
    near = Lot.objects.filter(status__in=OPEN, use_by__gte=today, use_by__lte=today + timedelta(days=AHEAD[0]))
    for lot in near.select_related("stock").order_by("pk"):
        raise_alert(
            f"use-by:{lot.pk}:{lot.use_by}",
            Alert.Level.MINOR,
            f"Lot {lot.code} of {lot.stock} is to be used by {lot.use_by}.",
            next_action="Issue it first, order the next",
            for_role=Role.STOREKEEPER,
            at=at,
            address=f"/store/lots/{lot.pk}/",
        )

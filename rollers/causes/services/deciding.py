"""Tape, fix the cause, watch, or nothing: decided with a reason, and a no is a record like a yes."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Line, Position, Product, Run
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers import queries
from rollers.causes import rules
from rollers.causes.models import CauseEntry, Sighting
from rollers.causes.models.sighting import Lane
from rollers.causes.queries import newest_sheet, rows_of, sightings_at, walks_naming
from rollers.causes.services.sightings import stream_of
from rollers.control import controls
from rollers.models import Decision, TapeStock, Task
from rollers.readiness import present_limits
from rollers.rooms import room_kinds
from rollers.services.asking_again import open_questions
from rollers.services.tasks import close_task, open_task

LOOK_BACK = timedelta(days=30)
ENDS = {"operator": Lane.OPERATOR, "drive": Lane.DRIVE}


def diagonal_ends(position: Position, at: datetime) -> set[str]:
    """Ends at which diagonal wrinkles were seen before this roller in the last days."""
    seen = sightings_at(position).filter(at__gte=at - LOOK_BACK, grade__gte=1)
    lanes = {row.lane for row in seen if row.is_diagonal}
    return {end for end, lane in ENDS.items() if lane in lanes}


def taped_rollers(line: Line, but: Position) -> int:
    """How many other rollers of the line carry tape now."""
    on = queries.tape_on_line(line.positions.exclude(pk=but.pk))
    return sum(on_roller.state in ("taped", "partial") for _, on_roller in on.values())


def fitting_stocks(position: Position, at: datetime) -> tuple[int | None, str]:
    """How many tape stocks may sit in this room at this heat, and what is asked of them in words.

    None before any stock is entered. A stock whose limit is not known is left to the check of its recipe.
    """
    kind, hot = room_kinds({position.room_id}, at)[position.room_id], position.surface_temp_c
    room = present_limits().refuse("temperature_margin")
    words = f"it is a {kind} room"
    if hot is not None:
        words += f", and a surface at {hot:g} °C asks for tape that stands {hot + room:g} °C"
    stocks = list(TapeStock.objects.all())
    cool = [row for row in stocks if hot is None or row.max_temp_c is None or hot <= row.max_temp_c - room]
    return (sum(kind in row.room_kinds for row in cool) if stocks else None), words


def _next_product(position: Position, products: Iterable[Product], at: datetime) -> str:
    """The product of the next planned run of the line, where it is not among these."""
    planned = Run.objects.filter(line=position.line, state=Run.State.PLANNED)
    run = planned.select_related("product_version__product").order_by("starts_at", "pk").first()
    known = {product.pk for product in products}
    return run.product_version.product.code if run and known and run.product_version.product_id not in known else ""


def _days(since: datetime | None, at: datetime) -> float:
    return (at - since).total_seconds() / 86400 if since else 0.0


def facts_for(
    position: Position,
    *,
    at: datetime,
    ends: str = "both",
    fixable_soon: bool = False,
    products: Iterable[Product] = (),
) -> rules.Facts:
    """Everything that a decision about this roller is asked on."""
    settings, named = controls(), walks_naming(position).first()
    fit, words = fitting_stocks(position, at)
    sheet = newest_sheet(position)
    rows = rows_of(sheet) if sheet else []
    step = position.steps.filter(path__in_use=True).order_by("-path").first()
    outcome = {row.title: entry.outcome for row, entry in rows if entry is not None}
    return rules.Facts(
        never_taped=position.never_taped,
        kind_words=position.get_kind_display() if position.kind not in position.TAPEABLE else "kept bare",
        walked=named is not None,
        sheet_closed=sheet is not None and sheet.closed_at is not None,
        failed=tuple(title for title, word in outcome.items() if word == CauseEntry.Outcome.FAIL),
        not_checked=tuple(title for title, word in outcome.items() if word == CauseEntry.Outcome.NOT_CHECKED),
        wrap_deg=step.wrap_deg if step else None,
        span_mm=step.entry_span_mm if step else None,
        width_mm=sheet.product_version.width_max_mm if sheet else None,
        taped_on_line=taped_rollers(position.line, position),
        diagonal_at_one_end=ends in diagonal_ends(position, at),
        fixable_soon=fixable_soon,
        walk_days=_days(named.at if named else None, at),
        sheet_days=_days(sheet.closed_at if sheet else None, at),
        ground_days=settings["ground_days"],
        tape_cap=int(settings["tape_cap"]),
        fitting_stocks=fit,
        place_words=words,
        next_product=_next_product(position, products, at),
    )


@transaction.atomic
def decide(
    position: Position,
    *,
    products: Iterable[Product],
    answer: str,
    reason: str,
    by: Person,
    at: datetime,
    ends: str = "",
    emergency: bool = False,
    fixable_soon: bool = False,
    sighting: Sighting | None = None,
) -> Decision:
    """Keep what is decided about a wrinkle at a roller.

    *Tape* is refused on rollers that are never taped, before walk and cause sheet (but in an emergency, which is
    followed up within a day), where a failed cause can be fixed soon, and at one end without a diagonal wrinkle there.
    """
    require_role(by, Role.ENGINEER, at=at, act="Deciding about tape")
    products = list(products)
    if answer not in Decision.Answer.values:
        raise Refused("answer", "Choose tape, fix the cause, watch, or nothing.", field="answer")
    if not products:
        raise Refused("no-product", "Choose at least one product that this is decided for.", field="products")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Give the reason in a sentence; a no needs one as well.", field="reason")
    tape = answer == Decision.Answer.TAPE
    ends = (ends or "both") if tape else ""
    if tape and ends not in ("both", "operator", "drive"):
        raise Refused("ends", "Choose both ends, the operator end or the drive end.", field="ends")
    facts = facts_for(position, at=at, ends=ends, fixable_soon=fixable_soon, products=products)
    if tape:
        against = rules.against_tape(facts, one_end=ends != "both", emergency=emergency)
        if against:
            raise Refused("not-the-medicine", against[0], field="answer", details=against[1:])
    sheet, named = newest_sheet(position), walks_naming(position).first()
    made = Decision.objects.create(
        position=position,
        answer=answer,
        ends=ends,
        reason=reason.strip(),
        grounds={
            "walk": named.walk_id if named else None,
            "cause_sheet": sheet.pk if sheet else None,
            "sighting": sighting.pk if sighting else None,
            "warnings": rules.warnings_for_tape(facts) if tape else [],
            "not_checked": list(facts.not_checked),
            "failed": list(facts.failed),
        },
        emergency=emergency and tape,
        at=at,
        by=by,
    )
    made.products.set(products)
    codes = ", ".join(sorted(product.code for product in products))
    word = made.get_answer_display() + (f" at the {ends} end" if ends in ENDS else "")
    record(
        stream=stream_of(position.line),
        action="decide-tape",
        subject=made,
        sentence=f"{position.code} for {codes}: {word}{', as an emergency' if made.emergency else ''}",
        by=by,
        at=at,
        facts=made.grounds,
        reason=made.reason,
    )
    for question in open_questions(position):
        close_task(question, outcome=f"Decided: {word}. {made.reason}"[:500], by=by, at=at)
    if made.emergency and not facts.grounded:
        open_task(
            Task.Kind.CAUSE_SHEET,
            f"emergency:{made.pk}",
            f"{position.code}: taped as an emergency. Walk the line and close the cause sheet, or the tape comes off.",
            at=at,
            by=by,
            for_role=Role.ENGINEER,
            due=at + timedelta(hours=controls()["emergency_hours"]),
            line=position.line,
            position=position,
        )
    return made

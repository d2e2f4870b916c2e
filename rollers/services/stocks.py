"""Tape stocks: entering one, and changing what is known of it."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules as floor_rules
from plant.floor.models import RoomKind
from plant.floor.queries import plant_date
from plant.floor.services.coded import create_coded
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import taken
from rollers.models import TapeStock

STREAM = "stocks"
# Accepted ranges in stored units (defaults of the trade form, no source).
STOCK_BOUNDS = {
    "thickness_mm": (0.03, 0.30),
    "thickness_min_mm": (0.02, 0.40),
    "thickness_max_mm": (0.02, 0.40),
    "width_mm": (6.0, 150.0),
    "roughness_um": (0.0, 60.0),
    "friction": (0.05, 1.0),
    "max_temp_c": (-50.0, 500.0),
}
NEEDED = ("thickness_mm", "width_mm", "roughness_um")
TEXTS = ("backing", "adhesive", "colour", "contact_statement")
OTHERS = ("latex", "room_kinds", "contact_statement_ends", "max_life_days")
CLEAN = {RoomKind.FOOD, RoomKind.MEDICAL}


def _checked(values: Mapping[str, Any], today: date) -> dict[str, Any]:
    """The fields to store.

    Raises
    ------
    Refused
        Naming the field.
    """
    unknown = set(values) - set(STOCK_BOUNDS) - set(TEXTS) - set(OTHERS)
    if unknown:
        raise Refused("unknown-field", f"A tape stock has no {', '.join(sorted(unknown))}. Leave it out.")
    for field in NEEDED:
        if values.get(field) is None:
            sentence = f"The {floor_rules.words(field)} of the tape is missing. The supplier's sheet or a gauge has it."
            raise Refused("empty", sentence, field=field)
    numbers, typed = taken(values, STOCK_BOUNDS)
    floor_rules.refuse_out_of_bounds(numbers, STOCK_BOUNDS)
    low, nominal, high = (numbers.get(f) for f in ("thickness_min_mm", "thickness_mm", "thickness_max_mm"))
    if nominal is not None and ((low is not None and low > nominal) or (high is not None and high < nominal)):
        sentence = "The thickness lies outside its own lowest and highest value. Check the three figures."
        raise Refused("out-of-order", sentence, field="thickness_mm")
    kinds = sorted(known_kinds(values.get("room_kinds") or ()), key=RoomKind.values.index)
    if not kinds:
        sentence = "Say in which rooms the tape may be used: general, food, medical. QA decides for food and medical."
        raise Refused("no-room", sentence, field="room_kinds")
    ends = values.get("contact_statement_ends")
    if CLEAN & set(kinds) and ends is not None and ends < today:
        sentence = (
            f"The contact statement ended on {ends}. Ask the supplier for a valid one, or leave out food and medical."
        )
        raise Refused("statement-ended", sentence, field="contact_statement_ends")
    days = values.get("max_life_days")
    if days is not None and not 1 <= days <= 3650:
        raise Refused("out-of-range", "The longest life on a roller is 1 to 3650 days.", field="max_life_days")
    texts = {field: str(values[field]).strip() for field in TEXTS if values.get(field)}
    return {
        **numbers,
        **texts,
        "typed": typed,
        "room_kinds": kinds,
        "latex": bool(values.get("latex")),
        "contact_statement_ends": ends,
        "max_life_days": days,
    }


def _refuse_rooms_without_qa(kinds: list[str], before: list[str], by: Person, at: datetime) -> None:
    if (CLEAN & set(kinds)) - set(before):
        require_role(by, Role.QA, at=at, act="Allowing a tape in food or medical rooms")


def known_kinds(words: Iterable[str]) -> set[str]:
    """Room classes, each once.

    Raises
    ------
    Refused
        For a word that is none.
    """
    words = list(words)
    for word in words:
        if word not in RoomKind.values:
            raise Refused("no-class", f"{word!r} is no room class; write general, food or medical.", field="room_kinds")
    return set(words)


@transaction.atomic
def enter_stock(*, code: str, name: str, values: Mapping[str, Any], by: Person, at: datetime) -> TapeStock:
    """Enter a kind of tape. For food and medical rooms QA enters it or allows it later."""
    require_role(by, Role.ENGINEER, Role.STOREKEEPER, Role.QA, Role.KEEPER, at=at, act="Entering a tape stock")
    fields = _checked(values, plant_date(at))
    _refuse_rooms_without_qa(fields["room_kinds"], [], by, at)
    stock = create_coded(
        TapeStock,
        what="tape stock",
        code=floor_rules.checked_code(code, what="tape stock", most=20),
        name=floor_rules.checked_name(name, what="tape stock"),
        **fields,
    )
    sentence = f"tape stock {stock.code} entered, allowed in {', '.join(stock.room_kinds)}"
    record(stream=STREAM, action="enter-stock", subject=stock, sentence=sentence, by=by, at=at, facts=fields)
    return stock


@transaction.atomic
def change_stock(
    stock: TapeStock,
    *,
    name: str,
    values: Mapping[str, Any],
    reason: str,
    by: Person,
    at: datetime,
) -> TapeStock:
    """Change what is known of a tape. Calculations made before keep the figures they were made with."""
    require_role(by, Role.ENGINEER, Role.QA, Role.KEEPER, at=at, act="Changing a tape stock")
    if not reason.strip():
        raise Refused("no-reason", "Say why it changes; the reason stands in the record.", field="reason")
    fields = _checked(values, plant_date(at))
    stock = TapeStock.objects.select_for_update().get(pk=stock.pk)
    _refuse_rooms_without_qa(fields["room_kinds"], stock.room_kinds, by, at)
    before = {field: getattr(stock, field) for field in fields}
    stock.name = floor_rules.checked_name(name, what="tape stock")
    cleared = {field: None for field in STOCK_BOUNDS if field not in fields} | dict.fromkeys(TEXTS, "")
    for field, value in {**cleared, **fields}.items():
        setattr(stock, field, value)
    stock.save()
    record(
        stream=STREAM,
        action="change-stock",
        subject=stock,
        sentence=f"tape stock {stock.code} changed",
        by=by,
        at=at,
        facts={"before": before, "after": fields},
        reason=reason,
    )
    return stock

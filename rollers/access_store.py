"""The doors to rows of the store: lots, reels, knives, bags, counts, rolls."""

from datetime import datetime

from plant.errors import Forbidden, NotFound
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from rollers.models import Bag, Knife, Lot, Reconciliation, Reel, Roll


def require_hands(person: Person, *, at: datetime, act: str) -> None:
    """Let pass everybody who works in the plant now: guests look and change nothing.

    Raises
    ------
    Forbidden
        For a guest and for who has no access now.
    """
    if not roles_of(person, at) - {Role.GUEST}:
        sentence = f"{act} is for people of the plant; {person.name} has no role for it now. Ask the shift supervisor."
        raise Forbidden("guest", sentence)


def lot_by_pk(pk: int) -> Lot:
    """One lot."""
    found = Lot.objects.select_related("stock", "received_by").filter(pk=pk).first()
    if found is None:
        raise NotFound("lot", str(pk), "Choose it from the list of lots.")
    return found


def reel_by_label(label: str) -> Reel:
    """A reel by the label on it."""
    found = Reel.objects.select_related("lot__stock").filter(label__iexact=label.strip()).first()
    if found is None:
        raise NotFound(
            "reel", label, "Check the label. A reel without one goes to the storekeeper: it is quarantined, not used."
        )
    return found


def knife_by_number(number: str) -> Knife:
    """A knife by its number."""
    found = Knife.objects.filter(number__iexact=number.strip()).first()
    if found is None:
        raise NotFound("knife", number, "Check the number on the tag, or ask the storekeeper.")
    return found


def bag_by_label(label: str) -> Bag:
    """A bag by its label."""
    found = Bag.objects.select_related("room", "opened_by", "closed_by").filter(label__iexact=label.strip()).first()
    if found is None:
        raise NotFound("bag", label, "Check the label on the bag, or ask QA.")
    return found


def count_by_pk(pk: int) -> Reconciliation:
    """One count."""
    found = Reconciliation.objects.select_related("by", "answers").filter(pk=pk).first()
    if found is None:
        raise NotFound("count", str(pk), "Choose it from the list of counts.")
    return found


def roll_by_number(number: str) -> Roll:
    """A recorded roll of product by its number."""
    rolls = Roll.objects.select_related("run__path", "run__line", "run__product_version__product")
    found = rolls.filter(number__iexact=number.strip()).first()
    if found is None:
        raise NotFound("roll", number, "Check the number on the roll; only recorded rolls can be traced.")
    return found


def labelled(label: str) -> Reel | Bag | Knife | Lot | Roll:
    """Whatever carries this label or number: a reel, a bag, a knife, a lot, a roll.

    Raises
    ------
    NotFound
        When nothing does.
    """
    text = label.strip()
    for kind, field in ((Reel, "label"), (Bag, "label"), (Knife, "number"), (Lot, "code"), (Roll, "number")):
        found = kind.objects.filter(**{f"{field}__iexact": text}).first()
        if found is not None:
            return found
    raise NotFound(
        "label", text, "It is no reel, bag, knife, lot or roll on record here. A reel without a label is quarantined."
    )

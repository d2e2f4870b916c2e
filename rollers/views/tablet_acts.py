"""One act at one roller: its screen, its form, and the service that records it."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.db import transaction
from django.http import HttpRequest

from plant.audit.models import Attachment
from plant.audit.services import Confirmation
from plant.audit.services.attaching import keep_photo
from plant.errors import Refused
from plant.people.access import person_by_number
from plant.people.models import Person
from plant.people.services import confirm_secret
from rollers.forms import tablet as shapes
from rollers.models import Bag, Piece, Reel
from rollers.queries_application import RESTART_WORDS, missing_pieces
from rollers.services import applications, checking, handing_over, looking, pieces, reporting, restarting, settling
from rollers.services.judging import Done
from rollers.services.spot import Sent
from rollers.tablet import RollerNow
from rollers.views import shown


@dataclass(frozen=True)
class Hand:
    """Who records it, when, and what the sender had seen."""

    request: HttpRequest
    by: Person
    at: datetime
    sent: Sent

    @property
    def who(self) -> dict[str, Any]:
        """What every service of tape asks."""
        return {"by": self.by, "at": self.at, "sent": self.sent}

    def confirm(self, staff_no: str, secret: str, field: str) -> Confirmation:
        """Another person signs on this tablet with the own number and password."""
        try:
            person = person_by_number(staff_no)
        except Refused as refusal:
            raise Refused(refusal.code, refusal.sentence, field=field) from None
        zone = shown.zone_of(self.request).key
        try:
            return confirm_secret(person, secret, at=self.at, time_zone=zone)
        except Refused as refusal:
            secret_field = field.replace("_no", "_secret")
            raise Refused(refusal.code, f"{person.name}: {refusal.sentence}", field=secret_field) from None

    def second(self, form: forms.Form) -> Confirmation | None:
        """The second person, where one is named."""
        staff_no = form.cleaned_data.get("second_no", "").strip()
        return self.confirm(staff_no, form.cleaned_data["second_secret"], "second_no") if staff_no else None


def sent_by(request: HttpRequest, seen: int | None, photo: Attachment | None = None, **more: Any) -> Sent:
    """How the form came: what its sender had seen, and its key."""
    try:
        key = uuid.UUID(request.POST.get("key", ""))
    except ValueError:
        key = None
    return Sent(seen=seen, key=key, photo=photo, **more)


def photo_of(form: forms.Form, hand: Hand, purpose: str) -> Attachment | None:
    """Keep the photograph that came with a form."""
    upload = form.cleaned_data.get("photo")
    return keep_photo(upload, by=hand.by, at=hand.at, purpose=purpose) if upload else None


def with_photo(hand: Hand, photo: Attachment | None) -> dict[str, Any]:
    """The same, with the photograph."""
    seen, key = hand.sent.seen, hand.sent.key
    return {"by": hand.by, "at": hand.at, "sent": Sent(seen=seen, key=key, photo=photo)}


def reel_of(label: str, field: str = "reel") -> Reel:
    """A reel by what stands on it."""
    found = Reel.objects.select_related("lot__stock").filter(label__iexact=label.strip()).first()
    if found is None:
        sentence = f"No reel has the label {label.strip()}. Scan it again, or ask the storekeeper."
        raise Refused("no-reel", sentence, field=field)
    return found


def bag_of(label: str) -> Bag | None:
    """A bag by what stands on it."""
    if not label.strip():
        return None
    found = Bag.objects.select_related("room").filter(label__iexact=label.strip()).first()
    if found is None:
        raise Refused(
            "no-bag", f"No bag has the label {label.strip()}. Open one here and write its label.", field="bag"
        )
    return found


# --- the acts ---------------------------------------------------------------------------------------------------


def _check(found: RollerNow, form: Any, hand: Hand) -> str:
    fact = checking.check_tape(found.row.position, **form.cleaned_data, **hand.who)
    return "Checked; it is verified." if fact.details["verified"] else "Checked."


def _restart(found: RollerNow, form: Any, hand: Hand) -> str:
    fact = restarting.record_restart(found.row.position, step=found.next_restart, **form.cleaned_data, **hand.who)
    if not fact.details["passed"]:
        return "Worse than before: back off. Stop, take the tape off or reduce it. The supervisor has a task for it."
    return "Recorded; it is verified." if fact.details["verified"] else "Recorded. Go on with the next step."


def _look(found: RollerNow, form: Any, hand: Hand) -> str:
    fields = {name: value for name, value in form.cleaned_data.items() if name != "photo"}
    with transaction.atomic():
        photo = photo_of(form, hand, f"look at {found.row.position}")
        fact = looking.record_look(found.row.position, **fields, **with_photo(hand, photo))
    return {"ok": "Recorded: fine.", "watch": "Recorded: to be watched; the next look is due sooner."}.get(
        fact.details["result"], "Recorded: not fit to run. Stop the line; the supervisor has a task."
    )


def _bare(found: RollerNow, form: Any, hand: Hand) -> str:
    looking.look_bare(found.row.position, **form.cleaned_data, **hand.who)
    return "Recorded: bare."


def _found_tape(found: RollerNow, form: Any, hand: Hand) -> str:
    with transaction.atomic():
        photo = photo_of(form, hand, f"tape found on {found.row.position}")
        looking.report_found_tape(found.row.position, what=form.cleaned_data["what"], **with_photo(hand, photo))
    return "Reported. The roller is unknown until the tape is off and counted; QA was told."


def _void(found: RollerNow, form: Any, hand: Hand) -> str:
    fact = applications.void_application(found.row.position, reason=form.cleaned_data["reason"], **hand.who)
    return f"Given up; the roller is {fact.state}."


def _confirm(found: RollerNow, form: Any, hand: Hand) -> str:
    settling.confirm_report(found.row.position, pieces=form.cleaned_data["pieces"], **hand.who)
    return "The reported tape is on record. It still has to be measured and checked."


def _settle(found: RollerNow, form: Any, hand: Hand) -> str:
    fact = settling.resolve_conflict(found.row.position, **form.cleaned_data, **hand.who)
    return f"Settled: {fact.state}."


def _hand_over(found: RollerNow, form: Any, hand: Hand) -> str:
    said = form.cleaned_data
    taker = hand.confirm(said["taker_no"], said["taker_secret"], "taker_no")
    giver = shown.confirm(hand.request, said["secret"])
    names = ("pieces", "lock_number", "lock_on", "tried", "note")
    handing_over.hand_over_job(
        found.row.position,
        giver=giver,
        taker=taker,
        at=hand.at,
        sent=hand.sent,
        **{name: said[name] for name in names},
    )
    return f"Handed over to {taker.person.name}. Your lock is off."


def _report(found: RollerNow, form: Any, hand: Hand) -> str:
    said, zone = form.cleaned_data, shown.zone_of(hand.request)
    person = person_by_number(said["done_by"]) if said["done_by"].strip() else hand.by
    done = Done(
        kind=said["kind"],
        by=person,
        version=found.recipe,
        reel=reel_of(said["reel"]) if said["reel"].strip() else None,
        pieces=said["pieces"] or 0,
        lock_number=said["lock_number"],
        agent=said["agent"],
        result=said["result"] or "ok",
        defects=tuple(said["defects"]),
        note=said["note"],
        rotation=found.row.place.rotation,
    )
    done_at = said["done_at"].replace(tzinfo=zone)
    sent = Sent(done_at=done_at, key=hand.sent.key, reason=said["late_reason"])
    reporting.report_done(found.row.position, done, by=hand.by, at=hand.at, sent=sent)
    return "Stored. A certified second person looks at the roller; what broke a rule goes to its owner."


def missing_here(found: RollerNow) -> Piece | None:
    """The first piece of this roller that is missing."""
    rows = missing_pieces([found.row.position])
    return rows[0] if rows else None


def _found_piece(found: RollerNow, form: Any, hand: Hand) -> str:
    piece = missing_here(found)
    if piece is None:
        raise Refused("not-missing", f"No piece of {found.row.position} is missing.")
    second = hand.second(form)
    with transaction.atomic():
        photo = photo_of(form, hand, f"found piece of {found.row.position}")
        pieces.find_piece(
            piece,
            photo=photo,
            bag=bag_of(form.cleaned_data["bag"]),
            second=second,
            where=form.cleaned_data["where"],
            by=hand.by,
            at=hand.at,
        )
    return "Recorded. The hold stays until QA has decided about each roll."


@dataclass(frozen=True)
class Act:
    """An act: its title, the shape of its form, and what records it. `asks` is whose certificate stands at the door."""

    title: str
    form: Callable[..., forms.Form]
    write: Callable[[RollerNow, Any, Hand], str]
    asks: str = ""


def _plain(shape: Callable[..., forms.Form]) -> Callable[..., forms.Form]:
    return lambda *args, found: shape(*args)


def _restart_form(*args: Any, found: RollerNow) -> forms.Form:
    return shapes.RestartForm(*args, step=found.next_restart)


ACTS = {
    "check": Act("Check as second person", _plain(shapes.CheckForm), _check, "check"),
    "restart": Act("Record the restart", _restart_form, _restart),
    "look": Act("Look at the tape", _plain(shapes.LookForm), _look),
    "bare": Act("Looked at: bare and clean", _plain(shapes.BareForm), _bare),
    "found": Act("Report tape without a record", _plain(shapes.FoundForm), _found_tape),
    "void": Act("Give this taping up", _plain(shapes.VoidForm), _void),
    "confirm": Act("Look at reported tape", _plain(shapes.ConfirmForm), _confirm, "check"),
    "settle": Act("Settle what is on the roller", _plain(shapes.SettleForm), _settle, "check"),
    "hand-over": Act("Hand the job over", _plain(shapes.HandOverForm), _hand_over),
    "report": Act("Record what was done earlier", _plain(shapes.ReportForm), _report),
    "found-piece": Act("A missing piece was found", _plain(shapes.FoundPieceForm), _found_piece),
}


def act_note(found: RollerNow, name: str) -> dict[str, Any]:
    """What the screen of an act shows besides its form."""
    if name == "restart":
        run = found.now.run
        return {"restart_word": RESTART_WORDS.get(found.next_restart, ""), "run": run}
    if name == "found-piece":
        return {"piece": missing_here(found)}
    return {}

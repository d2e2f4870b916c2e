"""Pieces of tape one by one: taken over from the survey, taken off into the bag, missing, found again."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from plant.audit.models import Attachment
from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.people.models import Person, Role
from rollers.models import Alert, Application, Bag, Deviation, Piece, PieceFact, TapeFact
from rollers.models.tape import TapeState
from rollers.queries_application import lanes_for, with_state
from rollers.rules import STRICT
from rollers.services.bags import put_pieces
from rollers.services.holds import open_hold_for_missing
from rollers.services.spot import Spot
from rollers.services.tasks import open_deviation, raise_alert
from training.access import require_skill

OFF = (PieceFact.State.INTACT, PieceFact.State.IN_PARTS, PieceFact.State.MISSING)


def adopt_tape(spot: Spot, by: Person) -> Application | None:
    """The open taping; tape that a survey found gets one now, with a piece for each that was counted."""
    fact = spot.fact
    if spot.application is not None or fact is None or fact.state != TapeState.TAPED or not fact.pieces:
        return spot.application
    application = Application.objects.create(
        body=spot.body,
        position=spot.position,
        recipe_version=fact.recipe_version,
        state=Application.State.MEASURED if fact.measured else Application.State.APPLIED,
        origin=Application.Origin.SURVEY,
        planned_by=fact.by,
        planned_at=fact.at,
        applied_at=fact.at,
    )
    lanes = lanes_for(fact.recipe_version, spot.body) if fact.recipe_version else ()
    known = lanes if len(lanes) == fact.pieces else ()
    for number in range(1, fact.pieces + 1):
        lane = known[number - 1] if known else None
        add_piece(
            application,
            number,
            PieceFact.State.ON,
            by=by,
            at=fact.at,
            recorded_at=spot.at,
            end=lane.end if lane else "unknown",
            lane=lane.lane if lane else number,
            length_mm=round(lane.length_mm, 1) if lane else 0.0,
        )
    return application


def add_piece(
    application: Application,
    number: int,
    state: str,
    *,
    by: Person,
    at: datetime,
    recorded_at: datetime,
    end: str = "unknown",
    lane: int = 0,
    length_mm: float = 0.0,
    bag: Bag | None = None,
    note: str = "",
) -> Piece:
    """A piece that was not cut under a record: surveyed tape, or tape found without a record."""
    piece = Piece.objects.create(
        application=application, number=number, end=end, lane=lane or number, length_mm=length_mm
    )
    PieceFact.objects.create(piece=piece, state=state, at=at, recorded_at=recorded_at, by=by, bag=bag, note=note)
    return piece


def next_number(application: Application) -> int:
    """The number that the next piece of a taping gets."""
    return (application.pieces.aggregate(last=Max("number"))["last"] or 0) + 1


@dataclass(frozen=True)
class Taken:
    """What came of the pieces of one act, counted."""

    outcomes: Mapping[int, str]
    bag: Bag | None
    second: Confirmation | None = None
    note: str = ""

    def number_of(self, state: str) -> int:
        """How many pieces ended in a state."""
        return sum(outcome == state for outcome in self.outcomes.values())


def refuse_taken(spot: Spot, on: Mapping[int, Piece], taken: Taken, by: Person) -> None:
    """A piece is recorded once, into a bag; torn ones only with a second pair of eyes."""
    for pk, outcome in taken.outcomes.items():
        if outcome not in OFF:
            raise Refused("outcome", "Choose for each piece: intact, in parts, or missing.", field="pieces")
        if pk not in on:
            raise _recorded_before(spot, pk)
    into_bag = len(taken.outcomes) - taken.number_of(PieceFact.State.MISSING)
    if into_bag and taken.bag is None:
        raise Refused("no-bag", "Every piece goes into a labelled bag. Type the label of the bag.", field="bag")
    if taken.number_of(PieceFact.State.IN_PARTS) and taken.second is None:
        sentence = (
            "A torn piece counts as one only when its parts are laid together and complete, and a second person "
            "sees it. That person types the own number and password."
        )
        raise Refused("second-person", sentence, field="second_no")


def _recorded_before(spot: Spot, pk: int) -> Refused:
    piece = Piece.objects.filter(pk=pk, application__body=spot.body).first()
    fact = piece.facts.select_related("by").order_by("-pk").first() if piece else None
    if piece is None or fact is None:
        return Refused("other-piece", f"This piece does not belong to {spot.position}. Scan the roller again.")
    sentence = (
        f"Piece {piece.number} is already recorded as {fact.get_state_display()} at {fact.at:%Y-%m-%d %H:%M} UTC by "
        f"{fact.by.name}. Nothing was changed."
    )
    return Conflict("already", sentence)


def write_taken(spot: Spot, on: Mapping[int, Piece], taken: Taken, *, by: Person) -> None:
    """One fact for each piece that came off or is missing."""
    by_state: dict[str, list[Piece]] = {}
    for pk, outcome in taken.outcomes.items():
        by_state.setdefault(outcome, []).append(on[pk])
    for piece in by_state.pop(PieceFact.State.MISSING, []):
        PieceFact.objects.create(
            piece=piece,
            state=PieceFact.State.MISSING,
            at=spot.done_at,
            recorded_at=spot.at,
            by=by,
            note=taken.note.strip(),
        )
    for state, pieces in by_state.items():
        torn = state == PieceFact.State.IN_PARTS
        if taken.bag is None:
            continue
        put_pieces(
            taken.bag,
            pieces,
            by=by,
            at=spot.at,
            state=state,
            second=taken.second.person if torn and taken.second is not None else None,
            done_at=spot.done_at,
            note=taken.note,
        )
        if torn and taken.second is not None:
            numbers = [piece.number for piece in pieces]
            content = {"position": spot.position.code, "pieces": numbers, "bag": taken.bag.label}
            meaning = "saw the parts laid together and complete"
            sign(taken.second, meaning=meaning, subject=pieces[0].application, content=content)


def tell_missing(spot: Spot, application: Application, fact: TapeFact, missing: int, *, by: Person) -> None:
    """A piece is missing: in food and medical rooms product is held from the last right count; QA is called."""
    strict = spot.kind in STRICT
    word = "1 piece" if missing == 1 else f"{missing} pieces"
    where = "the product, the trim, the roller and the floor" if strict else "the floor, the roller and the trim"
    about = {"line": spot.position.line, "position": spot.position, "application": application}
    if strict:
        open_hold_for_missing(application, missing=missing, by=by, at=spot.at)
    open_deviation(
        "piece-missing",
        Deviation.Severity.CRITICAL if strict else Deviation.Severity.MAJOR,
        f"{spot.position}: {word} of tape missing at the removal. Search {where}.",
        at=spot.at,
        owner_role=Role.QA,
        by=by,
        fact=fact,
        **about,
    )
    if strict:
        raise_alert(
            f"piece-missing:{fact.pk}",
            Alert.Level.CRITICAL,
            f"{spot.position}: {word} of tape missing; what ran since the last right count is held.",
            next_action="Stop, search, then decide about each held roll",
            for_role=Role.QA,
            at=spot.at,
            line=spot.position.line,
        )


@transaction.atomic
def find_piece(
    piece: Piece,
    *,
    photo: Attachment | None,
    bag: Bag | None,
    second: Confirmation | None,
    where: str,
    by: Person,
    at: datetime,
) -> PieceFact:
    """A missing piece was found: a photograph, a second person, and where. The hold stays until QA closes it."""
    piece = Piece.objects.select_for_update().select_related("application__position__room").get(pk=piece.pk)
    position = piece.application.position
    require_skill(by, "aware", "general", at, "Recording a found piece")
    now = with_state(Piece.objects.filter(pk=piece.pk)).values_list("now", flat=True).get()
    if now == PieceFact.State.FOUND:
        raise Conflict("already", f"Piece {piece.number} of {position} is already recorded as found.")
    if now != PieceFact.State.MISSING:
        raise Refused("not-missing", f"Piece {piece.number} of {position} is not missing.")
    if photo is None:
        raise Refused("no-photo", "Take a photograph of the piece beside a rule; QA compares it.", field="photo")
    if second is None or second.person.pk == by.pk:
        sentence = "A second person sees the piece and signs: staff number and own password."
        raise Refused("second-person", sentence, field="second_no")
    if len(where.strip()) < 5:
        raise Refused("no-place", "Say where it was found, as exactly as you can.", field="where")
    if bag is None:
        raise Refused("no-bag", "A found piece goes into a labelled bag. Type its label.", field="bag")
    fact = put_pieces(
        bag,
        [piece],
        by=by,
        at=at,
        state=PieceFact.State.FOUND,
        second=second.person,
        photo=photo,
        note=where.strip()[:300],
    )[0]
    content = {"piece": piece.pk, "position": position.code, "where": where.strip(), "photo": photo.digest}
    sign(second, meaning="saw the found piece", subject=piece, content=content)
    record(
        stream=f"roller:{piece.application.body.serial}",
        action="find-piece",
        subject=piece,
        sentence=f"{by.name} found piece {piece.number} of {position}: {where.strip()}",
        by=by,
        at=at,
        facts=content,
    )
    return fact

"""The second person looks at tape that another put on."""

from datetime import datetime

from django.db import transaction

from plant.errors import Conflict, Refused
from plant.floor.models import Position
from plant.people.models import Person
from rollers.models import Application, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import label_of
from rollers.queries_application import facts_of_application, is_counted, restart_done
from rollers.rules_application import after_check
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, need_application
from training.access import require_skill
from training.services.telling import tell_job_done

HANDS = (TapeFact.Kind.PREPARED, TapeFact.Kind.APPLIED, TapeFact.Kind.MEASURED, TapeFact.Kind.COUNTED)


def who_worked(application: Application) -> set[int]:
    """Everybody whose hands were in this taping, also who handed it over, and the applier of record."""
    hands = set(facts_of_application(application, *HANDS).values_list("by", flat=True))
    named = {application.applier_id, application.trainee_id} - {None}
    return hands | {pk for pk in named if pk is not None}


def _refuse_own(spot: Spot, application: Application, by: Person) -> None:
    if by.pk not in who_worked(application) and (spot.fact is None or spot.fact.applier_id != by.pk):
        return
    did = "put this tape on" if by.pk == application.applier_id else "worked on this tape"
    sentence = f"{by.name} {did} and cannot check it. A second person with Check has to look."
    raise Refused("same-person", sentence)


@transaction.atomic
def check_tape(
    position: Position, *, pieces: int, tail_trails: bool, by: Person, at: datetime, sent: Sent = NOW
) -> TapeFact:
    """The second person looks: pieces, tail, recipe. Never one who worked on it, nor the trainee or the applier."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    require_skill(by, "check", spot.kind, spot.done_at, f"Checking tape on {position}")
    application = spot.application
    if application is not None and application.checked_at is not None:
        who = application.checker.name if application.checker else "somebody"
        sentence = f"Already recorded at {application.checked_at:%Y-%m-%d %H:%M} UTC by {who}. Nothing was changed."
        raise Conflict("already", sentence)
    states = (Application.State.APPLIED, Application.State.MEASURED, Application.State.RESTART)
    application = need_application(spot, *states, what="check")
    version = application.recipe_version
    if version is None or spot.state != TapeState.TAPED:
        raise Refused("not-taped", f"{position} is {spot.state}: there is no recorded tape to check.")
    _refuse_own(spot, application, by)
    if application.state == Application.State.APPLIED:
        raise Refused("not-measured", f"{position}: measure the build first, then check.")
    if application.origin == Application.Origin.PLAN and not is_counted(application):
        raise Refused("not-counted", f"{position}: the applier counts pieces, offcuts and knife first, then you check.")
    if not tail_trails:
        sentence = (
            f"{position}: a leading tail gets lifted. Record a look at it, not fit to run, so that it comes off and is "
            "wound in the running direction."
        )
        raise Refused("tail-leads", sentence, field="tail_trails")
    if pieces != spot.pieces:
        sentence = (
            f"{spot.pieces} pieces are recorded, you see {pieces}. Count again; if it stays so, stop and call QA."
        )
        raise Refused("pieces", sentence, field="pieces")
    done = restart_done(application)
    state = after_check(application.state, all_passed=done)
    changes = {"checker": by, "checked_at": spot.done_at} | ({"verified_at": spot.done_at} if done else {})
    move_on(application, state, **changes)
    fact = carry_on(
        spot,
        TapeFact.Kind.CHECKED,
        by=by,
        sentence=f"{by.name} checked {label_of(version)} on {position}" + ("; it is verified" if done else ""),
        checked=True,
        details={"tail_trails": True, "pieces_seen": pieces, "verified": done},
    )
    subject = f"{position}, {label_of(version)}"
    tell_job_done(by, "check", spot.kind, spot.done_at, subject, key=f"tape-fact:{fact.pk}", recorded_at=at)
    return fact

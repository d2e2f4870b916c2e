"""A taping begins, and a taping is given up: who works, by which recipe, under whose eyes."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import PathStep, Position, Run
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from rollers.models import Application, Deviation, Lockout, RecipeVersion, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import label_of
from rollers.queries_application import pieces_on
from rollers.services.discipline import refuse_over_cap, refuse_overdue_review, tell_over_cap
from rollers.services.lockouts import confirm_step, lock_of, open_lockout
from rollers.services.recipes import refuse_place
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, write_fact
from rollers.services.tasks import open_deviation
from rollers.trial_recipes import over_because
from training.access import require_skill, require_supervised
from training.queries import Standing

HOT_ABOVE_C = 45.0  # common practice of the trade, no source: above this a bare hand does not stay on metal


def is_hot(position: Position) -> bool:
    """Whether the roller runs so hot that it takes the add-on for hot rollers."""
    return position.surface_temp_c is not None and position.surface_temp_c > HOT_ABOVE_C


def let_work(spot: Spot, by: Person, act: str, *, started_at: datetime | None = None) -> Standing:
    """Who is certified for this room, or works here as trainee under the certified person who signed in the job.

    That signature holds for the job in hand: once the tape was checked, a trainee needs somebody beside anew.
    """
    application, hot = spot.application, is_hot(spot.position)
    in_hand = application is not None and application.checked_at is None and application.verified_at is None
    if in_hand and application is not None and application.trainee_id == by.pk and application.applier is not None:
        return require_supervised(by, application.applier, "apply", spot.kind, spot.done_at, act, hot=hot)
    return require_skill(by, "apply", spot.kind, spot.done_at, act, hot=hot, started_at=started_at)


def note_exception(standing: Standing, fact: TapeFact, spot: Spot, *, by: Person) -> None:
    """A step that was finished after the certificate ended is noted, not punished."""
    if standing.exception:
        open_deviation(
            "finished-after-end",
            Deviation.Severity.INFO,
            f"{spot.position}: {standing.exception}",
            at=spot.at,
            owner_role=Role.SUPERVISOR,
            by=by,
            fact=fact,
            line=spot.position.line,
            position=spot.position,
            application=fact.application,
            person=by,
        )


def _refuse_recipe(spot: Spot, version: RecipeVersion, step: PathStep) -> None:
    """As it is now, and held: the page may have been opened before the recipe was withdrawn."""
    state = RecipeVersion.objects.select_for_update().get(pk=version.pk).state
    if state != RecipeVersion.State.IN_FORCE or version.stock is None:
        sentence = f"{label_of(version)} is not a taped recipe in force. Ask a person with Size, or the supervisor."
        raise Refused("not-in-force", sentence)
    over = over_because(version, spot.done_at)
    if over:
        raise Refused("trial-over", f"{label_of(version)}: {over} Ask the process engineer for a lasting recipe.")
    if version.recipe.position_id != spot.position.pk or step.position_id != spot.position.pk:
        raise Refused("other-position", f"This recipe belongs to {version.recipe.position}, not to {spot.position}.")
    if spot.kind not in version.stock.room_kinds:
        sentence = f"Tape {version.stock} is not permitted in this {spot.kind} room. Ask QA."
        raise Refused("stock-not-permitted", sentence)
    refuse_place(step, version.stock, spot.kind, [row.product for row in version.products.all()], spot.done_at)
    if spot.state != TapeState.BARE:
        sentence = f"{spot.position} is {spot.state}. It must be recorded bare and clean first: remove, clean, look."
        raise Refused("not-bare", sentence)


def _made(spot: Spot, version: RecipeVersion, *, by: Person, reason: str, run: Run | None) -> Application:
    """Plan a taping: never above the cap without a reason, never before the review that is overdue."""
    refuse_overdue_review(spot.position, spot.at)
    above = refuse_over_cap(spot.position, reason, Role.ENGINEER in roles_of(by, spot.at))
    application = Application.objects.create(
        body=spot.body,
        position=spot.position,
        recipe_version=version,
        run=run,
        planned_by=by,
        planned_at=spot.done_at,
    )
    record(
        stream=f"roller:{spot.body.serial}",
        action="plan-taping",
        subject=application,
        sentence=f"{by.name} planned {label_of(version)} on {spot.position} ({spot.body})",
        by=by,
        at=spot.at,
        facts={"recipe": version.pk, "position": spot.position.code},
        reason=reason.strip(),
    )
    if above:
        tell_over_cap(application, reason, spot.at)
    return application


def _same_job(application: Application, version: RecipeVersion) -> Application:
    if application.state not in (Application.State.PLANNED, Application.State.LOCKED_OUT):
        sentence = f"{application.position}: this taping is {application.get_state_display()} already."
        raise Conflict("already", sentence)
    if application.recipe_version_id != version.pk:
        sentence = (
            f"{application.position}: another taping is begun or planned ({application.recipe_version}). "
            "The supervisor voids it first."
        )
        raise Conflict("other-job", sentence)
    return application


@transaction.atomic
def plan_application(
    position: Position,
    version: RecipeVersion,
    *,
    step: PathStep,
    by: Person,
    at: datetime,
    run: Run | None = None,
    reason: str = "",
) -> Application:
    """The change sheet plans a taping for a run. Whoever winds it is asked when the work begins."""
    require_role(by, Role.SUPERVISOR, Role.ENGINEER, at=at, act="Planning a taping")
    spot = lock_spot(position, by, at)
    _refuse_recipe(spot, version, step)
    if spot.application is not None:
        return _same_job(spot.application, version)
    return _made(spot, version, by=by, reason=reason, run=run)


@transaction.atomic
def begin_application(
    position: Position,
    version: RecipeVersion,
    *,
    step: PathStep,
    by: Person,
    at: datetime,
    sent: Sent = NOW,
    certified: Confirmation | None = None,
    reason: str = "",
) -> Application:
    """Begin to tape a roller: from the plan, or planned now. The lockout begins with it.

    `certified`: by is a trainee; this person signs in the same job with the own secret and answers for it as applier.
    """
    spot = lock_spot(position, by, at, sent)
    act, hot = f"Putting tape on {position}", is_hot(position)
    if certified is not None:
        require_supervised(by, certified.person, "apply", spot.kind, spot.done_at, act, hot=hot)
    else:
        let_work(spot, by, act, started_at=_begun(position, by))
    _refuse_recipe(spot, version, step)
    if spot.application is not None:
        application = _same_job(spot.application, version)
    else:
        application = _made(spot, version, by=by, reason=reason, run=None)
    if certified is not None:
        _under_eyes(application, by, certified)
    lockout = open_lockout(position, Lockout.Purpose.APPLY, by=by, at=at)
    if lockout.application_id != application.pk:
        lockout.application = application
        lockout.save(update_fields=["application"])
    if lockout.holds and application.state == Application.State.PLANNED:
        _locked_out(lock_spot(position, by, at, Sent(sent.done_at)), lockout, by)
        application.refresh_from_db()
    return application


def _begun(position: Position, by: Person) -> datetime | None:
    lockout = lock_of(position, by.pk)
    return lockout.begun_at if lockout else None


def _under_eyes(application: Application, trainee: Person, certified: Confirmation) -> None:
    content = {
        "application": application.pk,
        "position": application.position.code,
        "recipe": str(application.recipe_version),
        "trainee": trainee.staff_no,
    }
    sign(certified, meaning="answers as applier beside the trainee", subject=application, content=content)
    application.trainee, application.applier = trainee, certified.person
    application.save(update_fields=["trainee", "applier"])


def _locked_out(spot: Spot, lockout: Lockout, by: Person) -> TapeFact:
    if spot.application is None:
        raise Refused("no-job", f"{spot.position}: no taping is begun here.")
    move_on(spot.application, Application.State.LOCKED_OUT)
    return carry_on(
        spot,
        TapeFact.Kind.LOCKED_OUT,
        by=by,
        sentence=f"{by.name} locked out {spot.position} with lock {lockout.lock_number}",
        details={"lock_number": lockout.lock_number, "lockout": lockout.pk, "steps": lockout.steps},
    )


@transaction.atomic
def confirm_lockout(position: Position, key: str, *, by: Person, at: datetime, lock_number: str = "") -> Lockout:
    """Confirm the next step of the own lockout here; after the last one a planned taping is *locked out*."""
    spot = lock_spot(position, by, at)
    lockout = lock_of(position, by.pk)
    if lockout is None:
        raise Refused("no-lockout", f"No lockout of yours is begun at {position}. Begin the work first.")
    was_complete = lockout.holds
    lockout = confirm_step(lockout, key, by=by, at=at, lock_number=lock_number)
    application = spot.application
    to_apply = lockout.holds and not was_complete and lockout.purpose == Lockout.Purpose.APPLY
    if to_apply and application is not None and application.state == Application.State.PLANNED:
        _locked_out(spot, lockout, by)
    return lockout


@transaction.atomic
def begin_lockout(position: Position, purpose: str, *, by: Person, at: datetime) -> Lockout:
    """Begin to lock out for taking off, cleaning or looking closely."""
    spot = lock_spot(position, by, at)
    if purpose == Lockout.Purpose.LOOK:
        require_skill(by, "aware", spot.kind, at, f"Locking out {position} to look closely")
    else:
        let_work(spot, by, f"Locking out {position}")
    return open_lockout(position, purpose, by=by, at=at)


MIN_REASON = 10


@transaction.atomic
def void_application(position: Position, *, reason: str, by: Person, at: datetime, sent: Sent = NOW) -> TapeFact:
    """Give a taping up. Where tape may be on, the roller is unknown until every piece is counted off."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application = spot.application
    if application is None:
        raise Refused("no-job", f"{position}: no taping is open here.")
    untouched = application.state in (Application.State.PLANNED, Application.State.LOCKED_OUT)
    own = by.pk in (application.planned_by_id, application.applier_id, application.trainee_id)
    if not (untouched and own):
        require_role(by, Role.SUPERVISOR, Role.QA, at=at, act="Voiding a taping")
    if len(reason.strip()) < MIN_REASON:
        raise Refused("no-reason", "Say why the taping is given up, in a sentence.", field="reason")
    move_on(application, Application.State.VOID, ended_at=spot.done_at)
    left = len(pieces_on(spot.body))
    state = spot.state if untouched else TapeState.UNKNOWN
    return write_fact(
        spot,
        TapeFact.Kind.VOIDED,
        state,
        by=by,
        sentence=f"{by.name} gave up the taping of {position}; the roller is {state}",
        pieces=left,
        reason=reason.strip(),
    )

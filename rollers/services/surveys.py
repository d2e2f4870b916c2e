"""The go-live survey of a room: what is on every roller on the day records begin, closed by QA."""

from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.models import Position, Room
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.models import Body, Mounting, RecipeVersion, Survey, TapeFact
from rollers.models.tape import TapeState
from rollers.queries_registry import open_survey, survey_facts, surveyed
from rollers.services.bodies import stream_of

SEEN = (TapeState.BARE, TapeState.TAPED, TapeState.UNKNOWN)


def _stream(room: Room) -> str:
    return f"survey:{room.code}"


@transaction.atomic
def start_survey(room: Room, *, by: Person, at: datetime) -> Survey:
    """Open the survey of a room."""
    require_role(by, Role.QA, Role.SUPERVISOR, Role.ENGINEER, Role.KEEPER, at=at, act="Opening a survey")
    taken = Refused("open", f"A survey of room {room.code} is open already; go on with that one.")
    if open_survey(room) is not None:
        raise taken
    if not Mounting.objects.filter(position__room=room, removed_at=None).exists():
        raise Refused("no-rollers", f"Room {room.code} has no mounted rollers to look at. Enter or import them first.")
    try:
        with transaction.atomic():
            survey = Survey.objects.create(room=room, opened_at=at, opened_by=by)
    except IntegrityError:
        raise taken from None
    sentence = f"survey of room {room.code} opened"
    record(stream=_stream(room), action="open-survey", subject=survey, sentence=sentence, by=by, at=at)
    return survey


@transaction.atomic
def record_seen(
    survey: Survey,
    position: Position,
    *,
    state: str,
    by: Person,
    at: datetime,
    text: str = "",
    version: RecipeVersion | None = None,
    pieces: int = 0,
) -> TapeFact:
    """Keep what was seen on a roller: bare, taped (in words, and the recipe where there is one) or unknown.

    Looking again writes a further entry; the newest counts. No entry is a finding.
    """
    roles = (Role.OPERATOR, Role.MAINTENANCE, Role.SUPERVISOR, Role.ENGINEER, Role.QA, Role.KEEPER)
    require_role(by, *roles, at=at, act="Recording what is on a roller")
    survey = Survey.objects.select_for_update().select_related("room").get(pk=survey.pk)
    if survey.closed_at is not None:
        sentence = f"The survey of room {survey.room.code} is closed. Tape found now is reported as found tape."
        raise Refused("closed", sentence)
    if position.room_id != survey.room_id:
        raise Refused("other-room", f"{position.code} is not in room {survey.room.code}.", field="position")
    mounting = Mounting.objects.select_related("body", "position").filter(position=position, removed_at=None).first()
    if mounting is None:
        raise Refused("empty-position", f"No roller is recorded at {position.code}. Mount it first.", field="position")
    if state not in SEEN:
        raise Refused("state", f"{position.code}: choose bare, taped or unknown.", field="state")
    if state == TapeState.TAPED and not text.strip() and version is None:
        sentence = f"{position.code}: say in words what is on it (tape, wraps, which ends), or choose the recipe."
        raise Refused("empty", sentence, field="text")
    if state == TapeState.TAPED and pieces < 1:
        sentence = f"{position.code}: count the pieces of tape; when it comes off, as many must come off."
        raise Refused("no-pieces", sentence, field="pieces")
    if version is not None and (state != TapeState.TAPED or version.recipe.position_id != position.pk):
        sentence = f"{position.code}: this recipe does not belong to this position or to what was seen."
        raise Refused("other-recipe", sentence, field="version")
    Body.objects.select_for_update().get(pk=mounting.body_id)
    _refuse_over_record(survey, mounting, state=state, pieces=pieces, at=at)
    fact = TapeFact.objects.create(
        body=mounting.body,
        position=position,
        kind=TapeFact.Kind.SURVEYED,
        at=at,
        recorded_at=at,
        by=by,
        state=state,
        recipe_version=version,
        orientation=mounting.orientation,
        rotation=version.step.rotation if version else "",
        pieces=pieces if state == TapeState.TAPED else 0,
        details={"seen": text.strip()} if text.strip() else {},
        survey=survey,
    )
    record(
        stream=stream_of(mounting.body),
        action="survey-roller",
        subject=fact,
        sentence=f"survey: {position.code} ({mounting.body.serial}) is {state}",
        by=by,
        at=at,
        facts=_line(position, fact),
    )
    return fact


def _refuse_over_record(survey: Survey, mounting: Mounting, *, state: str, pieces: int, at: datetime) -> None:
    """A look adds to the record; it takes no tape off, finds no missing piece and makes no found tape regular."""
    code = mounting.position.code
    fact = TapeFact.objects.filter(body=mounting.body_id).order_by("-pk").first()
    if fact is None or fact.survey_id == survey.pk or not fact.carries_tape:
        if state == TapeState.TAPED and surveyed(survey.room, at):
            sentence = f"{code}: room {survey.room.code} was surveyed before. Report this as found tape on the tablet."
            raise Refused("found-tape", sentence, field="state")
        return
    if fact.state != TapeState.TAPED or state != TapeState.TAPED:
        sentence = (
            f"{code}: by the record this roller is {fact.state} ({fact.get_kind_display()}). A look does not change "
            "that: remove the tape and count it first; a person with Apply can."
        )
        raise Refused("taped", sentence, field="state")
    if pieces != fact.pieces:
        sentence = f"{code}: {fact.pieces} pieces are on record. Count again; if one is missing, stop and call QA."
        raise Refused("pieces", sentence, field="pieces")


def _line(position: Position, fact: TapeFact) -> dict[str, Any]:
    return {
        "position": position.code,
        "body": fact.body.serial,
        "state": str(fact.state),
        "seen": fact.details.get("seen", ""),
        "recipe": str(fact.recipe_version) if fact.recipe_version else "",
        "pieces": fact.pieces,
        "by": fact.by.staff_no,
    }


def positions_to_look_at(survey: Survey) -> list[Mounting]:
    """The mounted rollers of the room, in order of line and place."""
    mounted = Mounting.objects.filter(position__room=survey.room_id, removed_at=None)
    return list(mounted.select_related("position__line", "body").order_by("position__line__code", "position__order"))


def content_of(survey: Survey) -> dict[str, Any]:
    """What QA signs: every entry that counts, in order of line and place."""
    seen = sorted(
        survey_facts(survey).values(),
        key=lambda fact: (fact.position.line.code, fact.position.order) if fact.position else ("", 0),
    )
    lines = [_line(fact.position, fact) for fact in seen if fact.position]
    return {"room": survey.room.code, "opened_at": survey.opened_at, "rollers": lines}


@transaction.atomic
def close_survey(survey: Survey, *, confirmation: Confirmation) -> Survey:
    """QA signs what was seen. From now on tape without a record is a finding."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Closing a survey")
    survey = Survey.objects.select_for_update().select_related("room").get(pk=survey.pk)
    if survey.closed_at is not None:
        raise Refused("closed", f"The survey of room {survey.room.code} was closed {survey.closed_at:%Y-%m-%d}.")
    seen = survey_facts(survey)
    mounted = positions_to_look_at(survey)
    missing = [
        mounting.position.code
        for mounting in mounted
        if mounting.position_id not in seen or seen[mounting.position_id].body_id != mounting.body_id
    ]
    if missing:
        sentence = (
            f"{len(missing)} of {len(mounted)} rollers were not looked at: {', '.join(missing[:8])}"
            f"{' …' if len(missing) > 8 else ''}. Record bare, taped or unknown for each; any operator can."
        )
        raise Refused("not-looked-at", sentence, details=missing)
    content = content_of(survey)
    signature = sign(confirmation, meaning="survey closed", subject=survey, content=content)
    survey.closed_at, survey.signature = at, signature
    survey.save(update_fields=["closed_at", "signature"])
    unknown = sum(line["state"] == TapeState.UNKNOWN for line in content["rollers"])
    record(
        stream=_stream(survey.room),
        action="close-survey",
        subject=survey,
        sentence=f"survey of room {survey.room.code} closed: {len(mounted)} rollers, {unknown} unknown",
        by=by,
        at=at,
        facts={"signature": signature.digest},
    )
    return survey

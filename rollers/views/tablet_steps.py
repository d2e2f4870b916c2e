"""The steps of a job under lockout: the shape of what is typed, and the service that records it."""

import random
from collections.abc import Callable
from typing import Any

from django import forms
from django.db import transaction

from plant.errors import Conflict, Refused
from rollers.forms import tablet_jobs as shapes
from rollers.models import Knife
from rollers.queries_application import knives_out, lanes_for, pieces_on
from rollers.services import applications, applying, measuring, removing
from rollers.services.bags import open_bag, open_bag_in
from rollers.services.lockouts import take_lock_off
from rollers.tablet import RollerNow
from rollers.tablet_job import Job
from rollers.views.tablet_acts import Hand, bag_of, photo_of, reel_of, with_photo

Write = Callable[[RollerNow, Any, Hand, Job], str]


def _begin(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    position, by, at = found.row.position, hand.by, hand.at
    if job.track != "apply" or (job.application is not None and job.application.state not in ("planned", "locked out")):
        applications.begin_lockout(position, job.track, by=by, at=at)
        return "Begun. Lock out step by step."
    if found.recipe is None or found.row.step is None:
        raise Refused("no-recipe", "No taped recipe is in force here for this product. Ask the shift supervisor.")
    certified = None
    if "certified_no" in form.cleaned_data:
        said = form.cleaned_data
        certified = hand.confirm(said["certified_no"], said["certified_secret"], "certified_no")
    applications.begin_application(position, found.recipe, step=found.row.step, certified=certified, **hand.who)
    return "Begun. Lock out step by step."


def _lock_step(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    said = form.cleaned_data
    number = said.get("lock_number", "")
    lockout = applications.confirm_lockout(found.row.position, said["step"], by=hand.by, at=hand.at, lock_number=number)
    return "The lockout is on." if lockout.holds else "Confirmed."


def _prepare(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    said = dict(form.cleaned_data)
    number = said.pop("knife", "").strip()
    knife = Knife.objects.filter(number__iexact=number).first() if number else None
    if number and knife is None:
        raise Refused("no-knife", f"No knife has the number {number}. Read it again, or ask the store.", field="knife")
    applying.prepare_face(found.row.position, knife=knife, **said, **hand.who)
    return "Recorded. Wind the tape."


def _wind(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    said = form.cleaned_data
    version = job.application.recipe_version if job.application else None
    if version is None or found.body is None or found.row.step is None:
        raise Refused("no-recipe", "This taping has no recipe; it can only be given up.")
    reel = reel_of(said["reel"])
    other = reel_of(said["other_reel"], "other_reel") if said["other_reel"].strip() else None
    first_of_other = said["other_from"] or 10_000
    numbers = [lane.number for lane in lanes_for(version, found.body)]
    if said["pieces"] != len(numbers):
        numbers = list(range(1, said["pieces"] + 1))
    wound = {number: other if other is not None and number >= first_of_other else reel for number in numbers}
    applying.wind_tape(
        found.row.position,
        step=found.row.step,
        wound=wound,
        tail_trails=said["tail_trails"],
        finish_over_start=said["finish_over_start"],
        **hand.who,
    )
    return "Recorded. Press it down and let it rest, then measure."


def _measure(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    with transaction.atomic():
        photo = photo_of(form, hand, f"tape on {found.row.position}, measured")
        measuring.measure_tape(
            found.row.position,
            builds=form.builds(),
            edges=form.edges(),
            runout_mm=form.cleaned_data["runout"],
            **with_photo(hand, photo),
        )
    return "Measured: within limits."


def _count(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    said = form.cleaned_data
    measuring.count_back(
        found.row.position, pieces=said["pieces"], offcuts=said["offcuts"], knives=form.returned(), **hand.who
    )
    return "Counted."


def _lock_off(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    if job.lockout is None:
        raise Conflict("already", "Your lock is recorded as off already.")
    take_lock_off(job.lockout, **form.cleaned_data, by=hand.by, at=hand.at)
    return "Your lock is off."


def _remove(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    removing.begin_removal(found.row.position, **hand.who)
    return "Begun. Every piece goes into the counted bag."


def _pieces(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    said, position = form.cleaned_data, found.row.position
    if "open_bag" in hand.request.POST:
        bag = open_bag(position.room, by=hand.by, at=hand.at, random=random.SystemRandom())
        return f"Bag {bag.label} is open. Write this label on the bag."
    fact = removing.take_off(
        position,
        outcomes=form.outcomes(),
        extra=said.get("extra") or 0,
        bag=bag_of(said["bag"]),
        second=hand.second(form),
        **hand.who,
    )
    missing = fact.details["missing"]
    lost = f" {missing} missing: stop, search; QA was told." if missing else ""
    return f"Recorded: {fact.details['pieces_removed']} off, {fact.pieces} left.{lost}"


def _finish(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    fact = removing.finish_removal(found.row.position, **form.cleaned_data, **hand.who)
    return f"Finished: the roller is {fact.state}."


def _stop(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    fact = removing.stop_removal(found.row.position, reason=form.cleaned_data["reason"], **hand.who)
    return f"Left off: the roller is {fact.state} with {fact.pieces} pieces."


def _clean(found: RollerNow, form: Any, hand: Hand, job: Job) -> str:
    removing.clean_roller(found.row.position, **form.cleaned_data, **hand.who)
    return "Cleaned; the roller is bare."


WRITES: dict[str, Write] = {
    "begin": _begin,
    "lock": _lock_step,
    "prepare": _prepare,
    "wind": _wind,
    "measure": _measure,
    "count": _count,
    "lock-off": _lock_off,
    "remove": _remove,
    "pieces": _pieces,
    "stop": _stop,
    "finish": _finish,
    "clean": _clean,
}


def form_of(step: str, found: RollerNow, job: Job, *sent: Any) -> forms.Form:
    """The shape of a step, as the job stands now."""
    application = job.application
    if step == "begin":
        mine = application is not None and application.trainee_id is not None
        return shapes.BeginForm(*sent, trainee=job.track == "apply" and not found.apply.ok and not mine)
    if step == "lock":
        return shapes.LockStepForm(*sent, step=job.lock_step[0] if job.lock_step else "")
    if step == "prepare":
        return shapes.PrepareForm(*sent, with_knife=Knife.objects.filter(retired_at=None).exists())
    if step == "measure":
        version = application.recipe_version if application else None
        return shapes.MeasureForm(*sent, ends={band.end for band in version.bands.all()} if version else ())
    if step == "count":
        return shapes.CountForm(*sent, knives=knives_out(application) if application else ())
    if step == "pieces":
        bag = open_bag_in(found.row.position.room)
        on = pieces_on(found.body) if found.body else []
        return shapes.PiecesForm(*sent, pieces=on, extra=found.row.on.state == "unknown", bag=bag.label if bag else "")
    plain: dict[str, Callable[..., forms.Form]] = {
        "wind": shapes.WindForm,
        "lock-off": shapes.LockOffForm,
        "stop": shapes.StopForm,
        "finish": shapes.FinishForm,
        "clean": shapes.CleanForm,
    }
    return plain.get(step, shapes.PlainForm)(*sent)

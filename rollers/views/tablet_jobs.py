"""The screens of acts and of the steps of a job: refused at the start where a person may not, recorded at the end."""

import re
import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from plant.errors import Conflict, NotFound, Refused
from plant.web.refusing import keep_on_form
from rollers.forms import tablet_jobs as shapes
from rollers.models import Lockout
from rollers.queries_application import lanes_for
from rollers.queries_store import usable_reels
from rollers.tablet import RollerNow
from rollers.tablet_job import TRACKS, Job
from rollers.views import shown
from rollers.views.tablet import find_roller, job_of, shell, to_roller, with_query
from rollers.views.tablet_acts import ACTS, Hand, act_note, sent_by
from rollers.views.tablet_steps import WRITES, form_of


def _seen(request: HttpRequest) -> int:
    """The newest fact that was on the page of the sender; where that is not said, none that there is."""
    text = request.POST.get("seen", "")
    return int(text) if re.fullmatch(r"[0-9]{1,18}", text) else -1


def _hand(request: HttpRequest) -> Hand:
    return Hand(request, shown.person_of(request), shown.moment_at(request), sent_by(request, _seen(request)))


def _hidden(request: HttpRequest, found: RollerNow) -> dict[str, Any]:
    """What a form carries: what its sender saw, and the key that makes sending it twice one record."""
    if request.method == "POST":
        return {"seen": _seen(request), "key": request.POST.get("key", "")}
    return {"seen": found.seen, "key": uuid.uuid4()}


@require_http_methods(["GET", "POST"])
def act(request: HttpRequest, code: str, act: str) -> HttpResponse:
    """One act at one roller."""
    if act in TRACKS:
        return redirect(with_query(request, reverse("tablet:job", args=[code, act])))
    if act not in ACTS:
        raise NotFound("act", act, "Go back to the roller and choose one there.")
    found, spec = find_roller(request, code), ACTS[act]
    code = found.row.position.code
    back = with_query(request, reverse("tablet:roller", args=[code]))
    frame = shell(request, back, f"{gettext('Roller')} {code}")
    context = frame | {"roller": found, "row": found.row, "title": spec.title}
    if spec.asks == "check" and not found.check.ok:
        return render(request, "rollers/tablet/may_not.html", context | {"standing": found.check}, status=403)
    sending = request.method == "POST"
    form = spec.form(request.POST, request.FILES, found=found) if sending else spec.form(found=found)
    context |= {"act": act, "form": form} | act_note(found, act) | _hidden(request, found)
    status = 200
    if sending:
        status = 422
        if form.is_valid():
            try:
                said = spec.write(found, form, _hand(request))
            except Refused as refusal:
                status = keep_on_form(form, refusal)
                if isinstance(refusal, Conflict):
                    context["seen"] = found.seen
            else:
                messages.success(request, f"{code}: {said}")
                return to_roller(request, code)
    return render(request, "rollers/tablet/act.html", context, status=status)


def _short(step: str) -> str:
    return "lock" if step.startswith("lock-") and step != "lock-off" else step


@require_http_methods(["GET", "POST"])
def job(request: HttpRequest, code: str, track: str) -> HttpResponse:
    """The steps of a job with the present one open; a step that is not next is refused by the service."""
    found = find_roller(request, code)
    work = job_of(request, found, track)
    code = found.row.position.code
    if request.method == "POST":
        return _record(request, found, work)
    if not work.present:
        return to_roller(request, code)
    status = 403 if _barred(found, work) else 200
    return _page(request, found, work, form_of(_short(work.present), found, work), status=status)


def _barred(found: RollerNow, work: Job) -> bool:
    """Whether the person may not begin: then the page says why, and who can."""
    return work.present == "begin" and not found.apply.ok


def _record(request: HttpRequest, found: RollerNow, work: Job) -> HttpResponse:
    step = request.POST.get("act", "")
    if step not in WRITES:
        raise NotFound("step", step, "Go back to the roller and begin there.")
    form = form_of(step, found, work, request.POST, request.FILES)
    status = 422
    if form.is_valid():
        try:
            said = WRITES[step](found, form, _hand(request), work)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
            if isinstance(refusal, Conflict):
                status = 422
        else:
            messages.success(request, f"{found.row.position.code}: {said}")
            return redirect(with_query(request, reverse("tablet:job", args=[found.row.position.code, work.track])))
    return _page(request, found, work, form, step=step, status=status)


def _page(
    request: HttpRequest, found: RollerNow, work: Job, form: forms.Form, *, step: str = "", status: int = 200
) -> HttpResponse:
    code, here = found.row.position.code, _short(work.present)
    if step and step not in (here, "stop"):
        # An old form, or another tab: its refusal stands above the step that is really next.
        for errors in form.errors.values():
            for sentence in errors:
                messages.error(request, str(sentence))
        form = form_of(here, found, work)
    hidden = _hidden(request, found)
    if status != 200 and step not in (here, "stop"):
        hidden = {"seen": found.seen, "key": uuid.uuid4()}
    back = with_query(request, reverse("tablet:roller", args=[code]))
    context = shell(request, back, f"{gettext('Roller')} {code}") | hidden
    context |= {
        "roller": found,
        "row": found.row,
        "job": work,
        "title": TRACKS[work.track],
        "step": here,
        "form": form if step != "stop" else form_of(here, found, work),
        "stop_form": form if step == "stop" else shapes.StopForm(),
        "barred": _barred(found, work),
        "picture": found.drawing,
    } | _beside(request, found, work, here)
    return render(request, "rollers/tablet/job.html", context, status=status)


def _beside(request: HttpRequest, found: RollerNow, work: Job, step: str) -> dict[str, Any]:
    """What a step shows besides its form: the lanes and reels to wind, the lock that comes off."""
    version = work.application.recipe_version if work.application else found.recipe
    if step in ("begin", "wind", "prepare") and work.track == "apply" and version is not None and found.body:
        lanes = lanes_for(version, found.body)
        reels = usable_reels(found.row.position, shown.moment_at(request))
        good = [now for now in reels if version.stock_id == now.reel.lot.stock_id]
        metres = sum(lane.length_mm for lane in lanes) / 1000
        return {"version": version, "lanes": lanes, "reels": good, "metres": metres}
    if step == "lock-off" and isinstance(work.lockout, Lockout):
        return {"lock_number": work.lockout.lock_number}
    return {}

"""A run: what it was planned for, its release with the secret typed again, what was released, its end."""

import hashlib
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from plant.audit.canonical import canonical
from plant.errors import Conflict, Refused
from plant.floor.models import Run
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from rollers import access
from rollers.forms.figures import dict_of
from rollers.forms.line import SetPointForm
from rollers.forms.signing import ReasonForm, ReleaseForm
from rollers.models import Release
from rollers.readiness import Readiness
from rollers.services import runs as run_services
from rollers.views import shown
from rollers.views.board import answer_parts
from rollers.views.changeover import set_points_of


def seen_digest(run: Run, found: Readiness) -> str:
    """What the page shows, as a digest: the release refuses when it is no longer what would be signed."""
    return hashlib.sha256(canonical(run_services.snapshot_of(run, found))).hexdigest()


def _head(request: HttpRequest, run: Run) -> dict[str, Any]:
    zone, roles = shown.zone_of(request), shown.roles_held(request)
    may_end = {Run.State.PLANNED: {Role.SUPERVISOR}, Run.State.RELEASED: {Role.SUPERVISOR, Role.OPERATOR}}
    return {
        "run": run,
        "line": run.line,
        "trail": [
            ("Lines", reverse("home")),
            (f"Line {run.line.code}", reverse("rollers:board", args=[run.line.code])),
            (f"Run of {run.product_version.product.code}", ""),
        ],
        "starts": shown.local_text(run.starts_at, zone),
        "planned": shown.local_text(run.planned_at, zone),
        "released": shown.local_text(run.released_at, zone),
        "ended": shown.local_text(run.ended_at, zone),
        "may_end": bool(may_end.get(Run.State(run.state), set()) & roles),
        "may_release": run.state == Run.State.PLANNED and Role.SUPERVISOR in roles,
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
    }


def _released_parts(run: Run) -> dict[str, Any]:
    release = Release.objects.select_related("signature").filter(run=run).first()
    if release is None:
        return {}
    snapshot = release.snapshot
    said = [
        {"position": place["position"], "weight": found["weight"], "sentence": found["sentence"]}
        for place in snapshot["positions"]
        for found in place["findings"]
    ]
    return {
        "release": release,
        "snapshot": snapshot,
        "said_then": said,
        "signatures": shown.signed([release.signature], snapshot),
    }


def _page(
    request: HttpRequest,
    run: Run,
    *,
    form: ReleaseForm | None = None,
    ending: ReasonForm | None = None,
    status: int = 200,
) -> HttpResponse:
    context = _head(request, run) | {"ending": ending or ReasonForm()}
    if run.state == Run.State.PLANNED:
        found = run_services.readiness_of(run, shown.moment_at(request))
        context |= answer_parts(found) | {"as_of": shown.local_text(found.at, shown.zone_of(request))}
        fresh = seen_digest(run, found)
        if form is None:
            form = ReleaseForm(initial={"seen": fresh})
        elif form.is_bound:
            # The page shows what is now; what is signed next is what it shows.
            sent = dict_of(form.data)
            sent["seen"] = fresh
            form.data = sent
        context["form"] = form
        context["busy"] = Run.objects.filter(line=run.line, state=Run.State.RELEASED).exclude(pk=run.pk).first()
    else:
        context |= _released_parts(run) | set_points_of(request, run)
        context |= {"form": SetPointForm(units=shown.units_of(request)), "refusals": form}
    return render(request, "rollers/runs/run.html", context, status=status)


@require_GET
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """The page of a run."""
    return _page(request, access.run(pk))


@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Let the run start. The secret first, so that a wrong one stays counted."""
    planned, form = access.run(pk), ReleaseForm(request.POST)
    status = 422
    if form.is_valid():
        try:
            confirmation = shown.confirm(request, form.cleaned_data["secret"])
            _refuse_changed(request, planned, form.cleaned_data["seen"])
            run_services.release_run(planned, confirmation=confirmation)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, f"Released: {planned}. What you saw is kept with your signature.")
            return redirect("rollers:run", pk)
    return _page(request, access.run(pk), form=form, status=status)


def _refuse_changed(request: HttpRequest, planned: Run, seen: str) -> None:
    if planned.state != Run.State.PLANNED:
        return  # the service says what it is now
    found = run_services.readiness_of(planned, shown.moment_at(request))
    if found.may_run and seen != seen_digest(planned, found):
        sentence = (
            "Something on this line changed since you looked. The page shows it as it is now: read it again, then sign."
        )
        raise Conflict("changed", sentence)


@require_POST
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """End a released run, or cancel a planned one."""
    going, form = access.run(pk), ReasonForm(request.POST)
    if not form.is_valid():
        return _page(request, going, ending=form, status=422)
    try:
        run_services.end_run(
            going, by=shown.person_of(request), at=shown.moment_at(request), reason=form.cleaned_data["reason"]
        )
    except Refused as refusal:
        return _page(request, access.run(pk), ending=form, status=keep_on_form(form, refusal))
    messages.success(request, f"{going}: {'ended' if going.state == Run.State.RELEASED else 'cancelled'}.")
    return redirect("rollers:board", going.line.code)

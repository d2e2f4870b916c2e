"""The settings of tape control: read by everybody, changed by engineer and QA together."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from plant.errors import Refused
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from rollers.control import CONTROLS
from rollers.control import controls as controls_now
from rollers.forms.line import ControlsForm
from rollers.models import ControlSet
from rollers.services.controlling import set_controls
from rollers.views import shown
from rollers.views.together import both


@require_http_methods(["GET", "POST"])
def controls(request: HttpRequest) -> HttpResponse:
    """The page; both persons sign at one desk."""
    now, status = controls_now(), 200
    may_change = bool({Role.ENGINEER, Role.QA} & shown.roles_held(request))
    form = ControlsForm(request.POST if request.method == "POST" else None, controls=CONTROLS, now=now)
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                mine, theirs = both(request, form)
                is_engineer = Role.ENGINEER in shown.roles_held(request)
                made = set_controls(
                    form.changes,
                    reason=form.cleaned_data["reason"],
                    engineer=mine if is_engineer else theirs,
                    qa=theirs if is_engineer else mine,
                    at=shown.moment_at(request),
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Signed by both: {made}.")
                return redirect("rollers:controls")
    zone = shown.zone_of(request)
    history = ControlSet.objects.select_related("engineer_signature", "qa_signature").order_by("-number")
    context = {
        "rows": [(one, now[one.key], form[one.key]) for one in CONTROLS],
        "form": form,
        "may_change": may_change,
        "history": [(row, shown.local_text(row.at, zone)) for row in history[:20]],
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "trail": [("Plant", reverse("rollers:registry")), ("Tape control settings", "")],
    }
    return render(request, "rollers/line/controls.html", context, status=status)

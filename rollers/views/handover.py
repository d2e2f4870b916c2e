"""Handing a line over at shift change."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from plant.errors import Refused
from plant.floor.access import line_by_code
from plant.floor.queries import shift_at
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from rollers.forms.line import HandoverForm
from rollers.models import Handover
from rollers.services.handovers import hand_over, open_items
from rollers.views import shown
from rollers.views.together import both


@require_http_methods(["GET", "POST"])
def handover(request: HttpRequest, code: str) -> HttpResponse:
    """What is open on the line, and the two signatures."""
    line, at, zone = line_by_code(code), shown.moment_at(request), shown.zone_of(request)
    form, status = HandoverForm(request.POST if request.method == "POST" else None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                giver, taker = both(request, form)
                made = hand_over(
                    line, giver=giver, taker=taker, at=at, note=form.cleaned_data["note"], shift=shift_at(at)
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Line {line} is handed over: {made.taker_signature.printed_name} has it.")
                return redirect("rollers:board", line.code)
    past = Handover.objects.filter(line=line).select_related("giver_signature", "taker_signature")[:10]
    context = {
        "line": line,
        "items": [(item, shown.brief_text(item["since"], zone)) for item in open_items(line, at)],
        "past": [(row, shown.local_text(row.at, zone)) for row in past],
        "form": form,
        "may": bool({Role.OPERATOR, Role.SUPERVISOR} & shown.roles_held(request)),
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "trail": [
            ("Lines", reverse("home")),
            (f"Line {line.code}", reverse("rollers:board", args=[line.code])),
            ("Handover", ""),
        ],
    }
    return render(request, "rollers/line/handover.html", context, status=status)

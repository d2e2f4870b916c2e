"""How learning goes over all: pass rates, questions, and how assessors agree."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from training import forms_learning as forms
from training.access_learning import question_by_code
from training.content_files import topics
from training.item_statistics import ENOUGH
from training.practicals import LEAST_AGREEMENT
from training.queries_learning import practical_rates, test_rates
from training.queries_practicals import ENOUGH_GIVEN, assessor_rows, second_markings_due
from training.queries_tests import bank_rows
from training.services.content import retire_question

READERS = (Role.TRAINER, Role.QA)


@require_safe
def statistics(request: PersonRequest) -> HttpResponse:
    """Pass rates, first-time pass, and agreement of the assessors. No single person's score."""
    require_role(request.user, *READERS, at=request.at, act="Looking at the figures of training")
    context = {
        "tests": test_rates(),
        "practicals": practical_rates(),
        "assessors": assessor_rows(request.at),
        "second_due": second_markings_due().count(),
        "least": LEAST_AGREEMENT,
        "enough_given": ENOUGH_GIVEN,
    }
    return render(request, "training/statistics.html", context)


@require_safe
def bank(request: PersonRequest) -> HttpResponse:
    """Every question with its figures, shown from enough answers on."""
    require_role(request.user, *READERS, at=request.at, act="Looking into the question bank")
    names = topics()
    rows = [(row, names.name(row.version.topic, row.version.lang)) for row in bank_rows()]
    context = {"rows": rows, "enough": ENOUGH, "shown": sum(row.figures.enough for row, _ in rows)}
    return render(request, "training/bank.html", context)


@require_http_methods(["GET", "POST"])
def retire(request: PersonRequest, code: str) -> HttpResponse:
    """Draw a question no more."""
    require_role(request.user, *READERS, at=request.at, act="Retiring a question")
    found = question_by_code(code)
    form, status = forms.Retire(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                retire_question(found, reason=form.cleaned_data["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Question {found.code} is drawn no more; its answers stay.")
                return redirect("training:bank")
    version = found.versions.order_by("-number", "lang").first()
    context = {"question": found, "version": version, "form": form}
    return render(request, "training/question_retire.html", context, status=status)

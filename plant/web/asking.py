"""The one way in which a page asks, acts and answers: what was typed stays until it is saved."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from plant.errors import Refused
from plant.web.forms import FigureForm
from plant.web.refusing import keep_on_form

F = TypeVar("F", bound=Form)


def ask(
    request: HttpRequest,
    form: F,
    act: Callable[[F], HttpResponse],
    *,
    template: str = "floor/form.html",
    **context: Any,
) -> HttpResponse:
    """Show the form; when it comes back whole, act and go on; when something is wrong, show it with the sentence."""
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            if isinstance(form, FigureForm) and not form.is_seen():
                status = 200
            else:
                try:
                    return act(form)
                except Refused as refusal:
                    status = keep_on_form(form, refusal)
    return render(request, template, {"form": form, **context}, status=status)

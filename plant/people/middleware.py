"""Whoever left, or has not chosen an own secret yet, goes no further."""

from collections.abc import Callable

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from plant.people.models import Person
from plant.people.queries import roles_of
from plant.web import clock


def _open_before_own_secret() -> set[str]:
    return {reverse("people:choose-secret"), reverse("people:sign-out")}


class SignedIn:
    """Sets `request.at` and `request.roles`; ends the session of a leaver at the leave time."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.at = clock.now()  # type: ignore[attr-defined]
        request.roles = frozenset()  # type: ignore[attr-defined]
        person = request.user
        if isinstance(person, Person):
            if not person.active_at(request.at):  # type: ignore[attr-defined]
                logout(request)
                return redirect(reverse("people:sign-in") + "?ended=1")
            request.roles = roles_of(person, request.at)  # type: ignore[attr-defined]
            if person.must_choose_secret and request.path not in _open_before_own_secret():
                return redirect("people:choose-secret")
        return self.get_response(request)

"""What a guest reads stands in the trail: dated access for outsiders is given so that it can be seen what they saw."""

from collections.abc import Callable

from django.db import transaction
from django.http import HttpRequest, HttpResponse

from plant.audit.services import record
from plant.people.models import Person, Role


class GuestReading:
    """Records each page that a guest opened, with what was asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        person = request.user
        if request.method != "GET" or response.status_code != 200 or not isinstance(person, Person):
            return response
        if getattr(request, "roles", frozenset()) != {Role.GUEST}:
            return response
        asked = request.get_full_path()[:300]
        with transaction.atomic():
            record(
                stream=f"guest:{person.staff_no}",
                action="guest-read",
                subject=person,
                sentence=f"{person.name} read {asked}",
                by=person,
                at=request.at,  # type: ignore[attr-defined]
            )
        return response

"""Every page reads and shows times by the clock of the plant."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from plant.floor.queries import plant_or_none


class PlantTime:
    """Sets `request.plant` and `request.zone`; forms and templates of this request use that clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        plant = plant_or_none()
        request.plant = plant  # type: ignore[attr-defined]
        request.zone = ZoneInfo(plant.time_zone if plant else "UTC")  # type: ignore[attr-defined]
        with timezone.override(request.zone):  # type: ignore[attr-defined]
            return self.get_response(request)

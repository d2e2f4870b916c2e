"""The doors to gauges and surveys."""

from plant.errors import NotFound
from rollers.models import Gauge, Survey


def gauge_by_code(code: str) -> Gauge:
    """A gauge by the code on it."""
    found = Gauge.objects.filter(code__iexact=code.strip()).first()
    if found is None:
        raise NotFound("gauge", code, "Check the code on the gauge, or ask maintenance.")
    return found


def survey_by_pk(pk: int) -> Survey:
    """One survey."""
    found = Survey.objects.select_related("room", "opened_by", "signature").filter(pk=pk).first()
    if found is None:
        raise NotFound("survey", str(pk), "Open it from the list of surveys.")
    return found

"""Personal test answers are removed after their time. That they were right or wrong, and the result, stays."""

from datetime import datetime
from typing import Any

from plant.records.purging import Purgeable, purgeable
from training.models import Answer, Pick


def _due(before: datetime) -> list[dict[str, Any]]:
    rows = Answer.objects.filter(result__at__lt=before, chosen__isnull=False).order_by("pk")
    names = ("id", "drawn_id", "result_id", "chosen", "right", "drawn__attempt__person__staff_no", "result__at")
    return [dict(zip(names, values, strict=True)) for values in rows.values_list(*names)]


def _also(ids: list[int]) -> None:
    """What was ticked before handing in says the same."""
    Pick.objects.filter(drawn__answer__in=ids).delete()


purgeable(Purgeable("answers", "which option a person chose in a test", "training_answer", "chosen", _due, _also))

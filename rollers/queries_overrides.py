"""Reads: which overrides hold, and how often a rule was passed."""

from datetime import datetime, timedelta

from plant.floor.models import Line
from rollers.models import Override
from rollers.rules_overrides import Passed


def overrides_now(line: Line, at: datetime) -> list[Passed]:
    """What two persons let pass on a line at a moment."""
    rows = Override.objects.filter(line=line, begins_at__lte=at, ends_at__gt=at)
    return [
        Passed(
            row.code,
            row.position.code if row.position else "",
            row.ends_at,
            row.reason,
            f"{row.supervisor_signature.printed_name} and {row.second_signature.printed_name}",
        )
        for row in rows.select_related("position", "supervisor_signature", "second_signature")
    ]


def passed_before(line: Line, code: str, at: datetime, days: int = 30) -> int:
    """How often this rule was passed on this line in the last days."""
    return Override.objects.filter(
        line=line, code=code, begins_at__gt=at - timedelta(days=days), begins_at__lte=at
    ).count()

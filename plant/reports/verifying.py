"""Stored reports: each file lies there with the bytes that were made."""

from collections.abc import Iterator

from plant.audit.verification.files import facts_by_subject, misfit_of_file
from plant.audit.verification.registry import Misfit, verifier
from plant.reports.engine import path_of
from plant.reports.models import StoredReport
from plant.reports.services import MADE


@verifier("stored reports")
def stored_reports() -> Iterator[Misfit]:
    """Every report that was made. Those from before the trail kept digests are compared with their row alone."""
    told, seen = facts_by_subject("storedreport", MADE), set()
    for row in StoredReport.objects.exclude(made_at=None).order_by("pk").iterator():
        seen.add(str(row.pk))
        where, facts = f"report {row.pk}", told.get(str(row.pk))
        if facts is not None and (facts["digest"], facts["file"]) != (row.digest, row.file_name):
            yield Misfit(where, "its digest or file name differs from what was recorded")
        misfit = misfit_of_file(where, path_of(row.file_name), row.digest)
        if misfit:
            yield misfit
    for key in sorted(set(told) - seen, key=int):
        yield Misfit(f"report {key}", "it was made and is gone")

"""Asking for a report and making it."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.jobs.running import enqueue
from plant.people.models import Person
from plant.reports import engine
from plant.reports.models import StoredReport
from plant.reports.registry import builder_of, require_report

WORK = "make report"
MADE = "make-report"


@transaction.atomic
def ask_report(kind: str, subject_id: str, *, paper: str = "a4", by: Person, at: datetime) -> StoredReport:
    """Queue a report as of now; printing is an act and stands in the trail."""
    require_report(by, kind, subject_id, at)
    page = builder_of(kind)(subject_id, engine.now_utc(at))
    asked = StoredReport.objects.create(
        kind=kind, subject_id=subject_id, title=page.title, paper=paper, asked_by=by, asked_at=engine.now_utc(at)
    )
    sentence = f"{by.name} printed {page.title}"
    record(stream="prints", action="print", subject=asked, sentence=sentence, by=by, at=at)
    enqueue(WORK, f"report:{asked.pk}", at, report_id=asked.pk)
    return asked


def make_report(report_id: int, *, at: datetime) -> StoredReport:
    """Make the file of a report that was asked for. Safe to run twice: the file is made once."""
    asked = StoredReport.objects.get(pk=report_id)
    if asked.made_at is not None:
        return asked
    page = builder_of(asked.kind)(asked.subject_id, asked.asked_at)
    content, name = engine.pdf_of(page, asked.paper), f"{asked.kind}-{asked.pk}.pdf"
    with transaction.atomic():
        asked = StoredReport.objects.select_for_update().get(pk=report_id)
        if asked.made_at is not None:
            return asked
        _, digest = engine.keep(content, name)
        asked.made_at, asked.file_name, asked.digest, asked.made_with = at, name, digest, engine.made_with()
        asked.save(update_fields=["made_at", "file_name", "digest", "made_with"])
        facts = {"digest": digest, "file": name, "made_with": asked.made_with, "paper": asked.paper}
        sentence = f"{asked.title} was made"
        record(stream="prints", action=MADE, subject=asked, sentence=sentence, by=None, at=at, facts=facts)
    return asked


@transaction.atomic
def opened(report: StoredReport, *, by: Person, at: datetime) -> None:
    """Whoever takes a made report away stands in the trail."""
    sentence = f"{by.name} opened {report.title}"
    facts = {"digest": report.digest}
    record(stream="prints", action="open-report", subject=report, sentence=sentence, by=by, at=at, facts=facts)

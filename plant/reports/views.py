"""Waiting for a report and fetching it."""

from django.conf import settings
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from plant.audit.models import Attachment
from plant.audit.services import file_of
from plant.errors import NotFound
from plant.jobs.models import Job
from plant.reports.access import stored_report
from plant.reports.services import ask_report, opened


@require_POST
def ask(request: HttpRequest, kind: str, subject_id: str) -> HttpResponse:
    """Ask for a report and go to where it will appear."""
    paper = "letter" if request.POST.get("paper") == "letter" else "a4"
    made = ask_report(kind, subject_id, paper=paper, by=request.user, at=request.at)  # type: ignore[arg-type, attr-defined]
    return redirect("reports:show", pk=made.pk)


@require_GET
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Made, being made, or why not."""
    found = stored_report(pk, request.user, request.at)  # type: ignore[arg-type, attr-defined]
    job = Job.objects.filter(key=f"report:{found.pk}").first()
    return render(request, "reports/show.html", {"report": found, "job": job})


@require_GET
def fetch(request: HttpRequest, pk: int) -> HttpResponse | FileResponse:
    """The file itself."""
    found = stored_report(pk, request.user, request.at)  # type: ignore[arg-type, attr-defined]
    path = settings.MEDIA_ROOT / "reports" / found.file_name
    if not found.file_name or not path.is_file():
        raise NotFound("file of report", str(pk), "Wait until it is made, or print the record again.")
    opened(found, by=request.user, at=request.at)  # type: ignore[arg-type, attr-defined]
    return FileResponse(path.open("rb"), content_type="application/pdf", filename=found.file_name)


@require_GET
def photo(request: HttpRequest, pk: int) -> FileResponse:
    """A photograph that belongs to a record; nothing of it ever changes."""
    found = Attachment.objects.filter(pk=pk).first()
    if found is None or not file_of(found).is_file():
        raise NotFound("photograph", str(pk), "Open it from the record that it belongs to, or ask the system keeper.")
    answer = FileResponse(file_of(found).open("rb"), content_type=found.media_type)
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer

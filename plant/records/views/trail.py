"""The trail: browsing, one event, taking parts of it away."""

import json
from pathlib import Path

from django.core.paginator import Paginator
from django.http import FileResponse, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST, require_safe

from plant.audit import standalone
from plant.audit.proofs import covering_root
from plant.audit.subjects import address_of
from plant.audit.verification.whole import misfit_of_event
from plant.people.requests import PersonRequest
from plant.records import access, forms, queries
from plant.records.services import export_proof, export_trail

ON_A_PAGE = 50
SCRIPT = Path(standalone.__path__[0]) / "check_proof.py"


@require_safe
def trail(request: PersonRequest) -> HttpResponse:
    """Events by record, person, time, stream, act and words; the newest first."""
    events = access.trail(request.user, request.at)
    form = forms.Look(request.GET or None, actions=queries.actions())
    status = 200 if not form.is_bound or form.is_valid() else 422
    wanted = form.wanted()
    page = Paginator(queries.filtered(events, wanted, request.zone), ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "wanted": wanted,
        "guest": access.is_guest(request.user, request.at),
        "verified": queries.last_verification(),
    }
    return render(request, "records/trail.html", context, status=status)


@require_safe
def event(request: PersonRequest, pk: int) -> HttpResponse:
    """One event: what it says, what was before, and whether it stands as it was written."""
    found = access.event(pk, request.user, request.at)
    facts = queries.told_by(found)
    context = {
        "event": found,
        "rows": queries.old_and_new(facts),
        "shows_old": any(was for _, was, _ in queries.old_and_new(facts)),
        "canonical": _spread(found.body),
        "misfit": misfit_of_event(found),
        "subject_url": address_of(found.subject_type, found.subject_id),
        "guest": access.is_guest(request.user, request.at),
        "root": covering_root(found),
    }
    return render(request, "records/event.html", context)


def _spread(body: str) -> str:
    """The body over several lines, for reading; what was hashed has no spaces and stands below it."""
    try:
        return json.dumps(json.loads(body), indent=2, ensure_ascii=False)
    except ValueError:
        return body


def _attachment(content: str | bytes, name: str, kind: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@require_POST
def export(request: PersonRequest) -> HttpResponse:
    """The events that fit as CSV."""
    form = forms.Look(request.POST, actions=queries.actions())
    form.is_valid()
    text = export_trail(form.wanted(), by=request.user, at=request.at)
    return _attachment("\ufeff" + text, f"trail-{request.at:%Y%m%d-%H%M}.csv", "text/csv; charset=utf-8")


@require_POST
def proof(request: PersonRequest, pk: int) -> HttpResponse:
    """The proof file of one event."""
    found = access.event(pk, request.user, request.at)
    name = f"proof-{found.stream.replace(':', '-')}-{found.seq}.json"
    return _attachment(export_proof(found, by=request.user, at=request.at), name, "application/json")


@require_safe
def script(request: PersonRequest) -> FileResponse:
    """The script that checks a proof file without this program."""
    return FileResponse(SCRIPT.open("rb"), as_attachment=True, filename=SCRIPT.name, content_type="text/x-python")

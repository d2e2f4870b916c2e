"""Reviews of the trail, daily roots, and verification."""

from datetime import datetime, timedelta

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.audit.services.signing import as_shown
from plant.people.access import require_role
from plant.people.models import Role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.records import access, forms, queries
from plant.records.rules import REVIEW_EVERY_DAYS
from plant.records.services import ask_verification, export_roots, review_trail
from plant.records.services.reviewing import content_of
from plant.web.asking import ask

ON_A_PAGE = 20


def _stretch(request: PersonRequest, given: dict) -> tuple[datetime, datetime]:
    """The typed days as moments; today means up to now."""
    since = queries.day_begins(given["first"], request.zone)
    until = queries.day_begins(given["last"] + timedelta(days=1), request.zone)
    today = given["last"] == request.at.astimezone(request.zone).date()
    return since, request.at if today else until


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def reviews(request: PersonRequest) -> HttpResponse:
    """The reviews on record; QA signs the next one."""
    require_role(request.user, *access.READERS, at=request.at, act="Reading the reviews of the trail")
    until = queries.reviewed_until()
    today = request.at.astimezone(request.zone).date()
    first = until.astimezone(request.zone).date() if until else today - timedelta(days=REVIEW_EVERY_DAYS)
    form = forms.Review(request.POST or None, initial={"first": first, "last": today})

    def act(form: forms.Review) -> HttpResponse:
        require_role(request.user, Role.QA, at=request.at, act="Reviewing the audit trail")
        since, end = _stretch(request, form.cleaned_data)
        secret, zone = form.cleaned_data["secret"], request.zone.key
        confirmation = confirm_secret(request.user, secret, at=request.at, time_zone=zone)
        review_trail(since=since, until=end, remarks=form.cleaned_data["remarks"], confirmation=confirmation)
        messages.success(request, "The review of the trail is signed and kept.")
        return redirect("records:reviews")

    page = Paginator(queries.reviews(), ON_A_PAGE).get_page(request.GET.get("page"))
    rows = [(row, as_shown(row.signature, content_of(row)) if row.signature else None) for row in page]
    return ask(
        request,
        form,
        act,
        template="records/reviews.html",
        page=page,
        rows=rows,
        until=until,
        due=until + timedelta(days=REVIEW_EVERY_DAYS) if until else None,
        overdue=until is None or until + timedelta(days=REVIEW_EVERY_DAYS) < request.at,
        may_review=Role.QA in request.roles,
        my_roles=", ".join(role_words(request.roles)),
    )


@require_safe
def roots(request: PersonRequest) -> HttpResponse:
    """The daily roots, and what the last verification found."""
    require_role(request.user, *access.READERS, at=request.at, act="Reading the daily roots")
    verified = queries.last_verification()
    context = {
        "page": Paginator(queries.roots(), ON_A_PAGE).get_page(request.GET.get("page")),
        "verified": verified,
        "found": queries.told_by(verified) if verified else {},
        "guest": access.is_guest(request.user, request.at),
    }
    return render(request, "records/roots.html", context)


@require_POST
def roots_file(request: PersonRequest) -> HttpResponse:
    """All roots as a file to keep elsewhere."""
    text = export_roots(by=request.user, at=request.at)
    response = HttpResponse(text, content_type="application/jsonl; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="roots-{request.at:%Y%m%d}.jsonl"'
    return response


@require_POST
def verify(request: PersonRequest) -> HttpResponse:
    """Have everything verified in the background."""
    ask_verification(by=request.user, at=request.at)
    messages.success(request, "Verification has begun. Its outcome appears here and in the trail; look again shortly.")
    return redirect("records:roots")

"""Roles, badges, starter codes, and the review of access."""

import segno
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from plant.audit.services.signing import as_shown
from plant.errors import Refused
from plant.people import forms
from plant.people.access import person_by_id, require_role
from plant.people.codes import typed_code
from plant.people.models import AccessReview, Role
from plant.people.queries import access_list, badge_in_use, grants_of, reviews, role_words
from plant.people.requests import PersonRequest
from plant.people.rules import REVIEW_EVERY
from plant.people.services import (
    confirm_secret,
    end_badge,
    end_role,
    grant_role,
    issue_badge,
    issue_starter,
    review_access,
)
from plant.web.refusing import keep_on_form


@require_http_methods(["GET", "POST"])
def roles(request: PersonRequest, key: int) -> HttpResponse:
    """Grant a role, or end one."""
    require_role(request.user, Role.KEEPER, at=request.at, act="Granting and ending roles")
    whom, status = person_by_id(key), 200
    held = [(grant.role, grant.get_role_display()) for grant in grants_of(whom, request.at)]
    ending = "end" in request.POST
    grant = forms.GrantRole(request.POST if request.method == "POST" and not ending else None, prefix="grant")
    end = forms.EndRole(request.POST if ending else None, prefix="end", held=held)
    if request.method == "POST":
        form, act = (end, end_role) if ending else (grant, grant_role)
        status = 422
        if form.is_valid():
            try:
                act(whom, form.cleaned_data["role"], reason=form.cleaned_data["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                word = role_words([form.cleaned_data["role"]])[0]
                messages.success(request, f"{whom.name} {'is no longer' if ending else 'is now'} {word}.")
                return redirect("people:person", whom.pk)
    context = {"person": whom, "grant": grant, "end": end, "held": held}
    return render(request, "people/roles.html", context, status=status)


def _qr(code: str) -> SafeString:
    """The code as a QR symbol (ISO/IEC 18004) with error level Q, dark on light in every theme."""
    symbol = segno.make_qr(code, error="q")
    # The markup comes from the library, and the code from our own alphabet.
    return mark_safe(symbol.svg_inline(scale=5, border=4, dark="#000", light="#fff", omitsize=False))  # noqa: S308


@require_http_methods(["GET", "POST"])
def badge(request: PersonRequest, key: int) -> HttpResponse:
    """Issue a card with an opaque code to print, or end the one in use."""
    require_role(request.user, Role.KEEPER, at=request.at, act="Issuing and ending badges")
    whom, status = person_by_id(key), 200
    in_use = badge_in_use(whom, request.at)
    ending = "end" in request.POST
    issue = forms.Nothing(request.POST if request.method == "POST" and not ending else None)
    end = forms.EndBadge(request.POST if ending else None)
    if request.method == "POST":
        form, status = (end if ending else issue), 422
        if form.is_valid():
            try:
                if not ending:
                    issue_badge(whom, code=typed_code(4), by=request.user, at=request.at)
                elif in_use is None:
                    raise Refused("no-badge", f"{whom.name} has no badge in use; there is nothing to end.")
                else:
                    end_badge(in_use, reason=end.cleaned_data["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                said = "The badge is ended." if ending else "The badge is issued. Print it and hand it over."
                messages.success(request, said)
                return redirect("people:badge", whom.pk)
    context = {"person": whom, "badge": in_use, "qr": in_use and _qr(in_use.code), "issue": issue, "end": end}
    return render(request, "people/badge.html", context, status=status)


@never_cache
@require_http_methods(["GET", "POST"])
def starter(request: PersonRequest, key: int) -> HttpResponse:
    """Issue a starter code. It is shown on the answer to this request and nowhere else, ever."""
    require_role(request.user, Role.KEEPER, at=request.at, act="Issuing a starter code")
    whom, status, code = person_by_id(key), 200, ""
    form = forms.Nothing(request.POST or None)
    if request.method == "POST":
        code = typed_code(4)
        try:
            issue_starter(whom, code=code, by=request.user, at=request.at)
        except Refused as refusal:
            code, status = "", keep_on_form(form, refusal)
    return render(request, "people/starter.html", {"person": whom, "form": form, "code": code}, status=status)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def review(request: PersonRequest) -> HttpResponse:
    """Look at who may do what, conclude, sign."""
    reviewers = (Role.KEEPER, Role.QA, Role.MANAGER)
    require_role(request.user, *reviewers, at=request.at, act="Reviewing access")
    form, status = forms.Conclude(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                confirmation = confirm_secret(
                    request.user, form.cleaned_data["secret"], at=request.at, time_zone=request.zone.key
                )
                review_access(conclusion=form.cleaned_data["conclusion"], confirmation=confirmation)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, "The review of access is signed and kept.")
                return redirect("people:review")
    past = list(reviews()[:8])
    context = {
        "form": form,
        "seen": access_list(request.at),
        "past": [_as_shown(each) for each in past],
        "due": past[0].at + REVIEW_EVERY if past else None,
        "overdue": not past or past[0].at + REVIEW_EVERY < request.at,
        "my_roles": ", ".join(role_words(request.roles)),
    }
    return render(request, "people/review.html", context, status=status)


def _as_shown(review: AccessReview) -> dict[str, object]:
    signature = review.signature
    content = {"seen": review.seen, "conclusion": review.conclusion}
    shown: dict[str, object] = {"at": review.at, "persons": len(review.seen), "conclusion": review.conclusion}
    if signature is not None:
        shown["signature"] = as_shown(signature, content)
    return shown

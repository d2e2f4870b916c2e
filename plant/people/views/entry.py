"""Signing in and out, and choosing the own secrets."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from plant.audit.services import Confirmation
from plant.errors import NotFound, Refused
from plant.people import forms
from plant.people.access import person_by_number
from plant.people.queries import needs_voucher
from plant.people.requests import PersonRequest, TimedRequest
from plant.people.services import choose_pin, choose_secret, confirm_secret, try_sign_in
from plant.people.services import sign_out as end_session
from plant.web.refusing import keep_on_form


def _where_to(request: TimedRequest, wanted: str) -> str:
    """The page asked for before sign-in, if it is one of ours."""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if wanted.startswith("/") and ours else "/"


@never_cache
@login_not_required
@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def sign_in(request: TimedRequest) -> HttpResponse:
    """Staff number and secret; the service counts, waits and locks."""
    if request.user.is_authenticated:
        return redirect(_where_to(request, request.GET.get("next", "")))
    form = forms.SignIn(request.POST or None, initial={"next": request.GET.get("next", "")})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                person = try_sign_in(given["staff_no"], given["secret"], at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                login(request, person, backend=settings.AUTHENTICATION_BACKENDS[0])
                return redirect(_where_to(request, given["next"]))
    context = {"form": form, "ended": "ended" in request.GET, "out": "out" in request.GET}
    return render(request, "people/sign_in.html", context, status=status)


@require_POST
def sign_out(request: PersonRequest) -> HttpResponse:
    """End the session on this device."""
    end_session(request.user, at=request.at)
    logout(request)
    return redirect(reverse("people:sign-in") + "?out=1")


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def choose(request: PersonRequest) -> HttpResponse:
    """The own password: at first with nothing but the session of a starter code, later with the old one."""
    person, first = request.user, request.user.must_choose_secret
    vouched = needs_voucher(person)
    shape = forms.VouchedPassword if vouched else forms.NewPassword if first else forms.ChangePassword
    form, status = shape(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                if not first:
                    confirm_secret(person, form.cleaned_data["secret"], at=request.at, time_zone=request.zone.key)
                voucher = _voucher(request, form.cleaned_data) if vouched else None
                choose_secret(person, new=form.cleaned_data["new"], at=request.at, voucher=voucher)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                person.refresh_from_db()
                update_session_auth_hash(request, person)
                messages.success(request, "Your password is set. Nobody else knows it or can look it up.")
                return redirect("people:me")
    context = {"form": form, "first": first, "vouched": vouched}
    return render(request, "people/choose_secret.html", context, status=status)


def _voucher(request: PersonRequest, given: dict[str, str]) -> Confirmation:
    """The colleague's confirmation. A number that nobody has reads like a wrong password."""
    try:
        colleague = person_by_number(given["voucher"])
        return confirm_secret(colleague, given["voucher_secret"], at=request.at, time_zone=request.zone.key)
    except NotFound:
        sentence = "Staff number and password of your colleague do not fit. Type both again."
        raise Refused("wrong-secret", sentence, field="voucher_secret") from None
    except Refused as refusal:
        refusal.field = "voucher_secret" if refusal.field == "secret" else refusal.field
        raise


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def choose_own_pin(request: PersonRequest) -> HttpResponse:
    """The own PIN, with the password."""
    person, form, status = request.user, forms.NewPin(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                confirm_secret(person, form.cleaned_data["secret"], at=request.at, time_zone=request.zone.key)
                choose_pin(person, pin=form.cleaned_data["new"], at=request.at)
            except Refused as refusal:
                # The service speaks of the PIN; here that is the field with the new one.
                refusal.field = "new" if refusal.field == "pin" else refusal.field
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, "Your PIN is set.")
                return redirect("people:me")
    return render(request, "people/choose_pin.html", {"form": form}, status=status)

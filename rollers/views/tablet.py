"""The shop floor: line, roller, and one act a screen."""

import re
from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from plant.errors import Conflict, NotFound, Refused
from plant.floor.models import Line, ProductVersion
from plant.people.queries import role_words
from rollers.forms.tablet import CheckForm, CleanForm, FoundForm, LockoutForm, MeasureForm, PiecesForm, RemoveForm
from rollers.models import TapeFact
from rollers.services import applying, removing
from rollers.services.spot import confirm_lockout
from rollers.tablet import RollerNow, line_now, line_picture, roller_now

LOCKOUT_HOLDS = 3600  # seconds until the confirmed lockout has to be gone through again
SALT = "lockout"


def _shell(request: HttpRequest, back: str = "", label: str = "") -> dict[str, Any]:
    person = request.user
    return {
        "back_url": back,
        "back_label": label,
        "person_name": getattr(person, "name", ""),
        "person_role": ", ".join(role_words(request.roles)),  # type: ignore[attr-defined]
        "sign_out_url": reverse("people:sign-out"),
    }


def _chosen(request: HttpRequest) -> ProductVersion | None:
    """The product that was asked for in the address, if any."""
    code = request.GET.get("product", "")
    if not code:
        return None
    version = ProductVersion.objects.select_related("product").filter(product__code__iexact=code, current=True).first()
    if version is None:
        raise NotFound("product", code, "Check the code, or ask the shift supervisor.")
    return version


def _line(code: str) -> Line:
    line = Line.objects.filter(code__iexact=code).first()
    if line is None:
        raise NotFound("line", code, "Check the code on the line, or ask the shift supervisor.")
    return line


@require_GET
def lines(request: HttpRequest) -> HttpResponse:
    """All lines, each with its word."""
    rows = [line_now(line, request.at) for line in Line.objects.filter(in_use=True)]  # type: ignore[attr-defined]
    return render(request, "rollers/tablet/lines.html", _shell(request) | {"rows": rows})


@require_GET
def line(request: HttpRequest, code: str) -> HttpResponse:
    """One line: may it run, and its rollers to tap."""
    where, version = _line(code), _chosen(request)
    now = line_now(where, request.at, version)  # type: ignore[attr-defined]
    suffix = f"?product={version.product.code}" if version else ""
    picture = (
        line_picture(now.found, lambda position: reverse("tablet:roller", args=[position]) + suffix)
        if now.found
        else ""
    )
    context = {
        "line": where,
        "now": now,
        "picture": picture,
        "path_words": f"path {now.found.path.name}" if now.found else "",
        "products": where.products.filter(versions__current=True),
        "positions": where.positions.all() if not now.found else [],
    }
    return render(request, "rollers/tablet/line.html", _shell(request, reverse("tablet:lines"), "Lines") | context)


def _roller(request: HttpRequest, code: str) -> RollerNow:
    return roller_now(code, request.user, request.at, _chosen(request))  # type: ignore[arg-type, attr-defined]


ACT_WORDS = {
    "apply": "Put the tape on",
    "measure": "Measure the build",
    "check": "Check as second person",
    "remove": "Take the tape off",
    "clean": "Record the cleaning",
}


@require_GET
def roller(request: HttpRequest, code: str) -> HttpResponse:
    """One roller: what is on it, what belongs there, the verdict, and may I."""
    found = _roller(request, code)
    acts = [(act, ACT_WORDS[act], (found.check if act == "check" else found.apply).ok) for act in found.acts]
    query = request.GET.urlencode()
    back = reverse("tablet:line", args=[found.row.position.line.code]) + (f"?{query}" if query else "")
    context = {"roller": found, "row": found.row, "acts": acts, "query": query}
    return render(
        request,
        "rollers/tablet/roller.html",
        _shell(request, back, f"Line {found.row.position.line.code}") | context,
    )


# --- acts ------------------------------------------------------------------------------------------------------

Write = Callable[[RollerNow, Any, dict[str, Any]], TapeFact]


def _apply(found: RollerNow, form: PiecesForm, common: dict[str, Any]) -> TapeFact:
    if found.recipe is None or found.row.step is None:
        raise Refused("no-recipe", "No taped recipe is in force here for this product. Ask the shift supervisor.")
    return applying.apply_tape(
        found.row.position, found.recipe, step=found.row.step, pieces=form.cleaned_data["pieces"], **common
    )


def _measure(found: RollerNow, form: MeasureForm, common: dict[str, Any]) -> TapeFact:
    return applying.measure_tape(found.row.position, builds=form.builds(), **common)


def _check(found: RollerNow, form: CheckForm, common: dict[str, Any]) -> TapeFact:
    return applying.check_tape(found.row.position, **form.cleaned_data, **common)


def _remove(found: RollerNow, form: RemoveForm, common: dict[str, Any]) -> TapeFact:
    return removing.remove_tape(found.row.position, **form.cleaned_data, **common)


def _clean(found: RollerNow, form: CleanForm, common: dict[str, Any]) -> TapeFact:
    return removing.clean_roller(found.row.position, **form.cleaned_data, **common)


def _found_tape(found: RollerNow, form: FoundForm, common: dict[str, Any]) -> TapeFact:
    return removing.report_found_tape(found.row.position, **form.cleaned_data, **common)


def _measure_form(*args: Any, found: RollerNow) -> MeasureForm:
    version = found.fact.recipe_version if found.fact else None
    return MeasureForm(*args, ends=sorted({band.end for band in version.bands.all()}) if version else [])


FORMS: dict[str, tuple[Callable[..., forms.Form], Write, bool]] = {
    # act: form, service, under lockout
    "apply": (lambda *args, found: PiecesForm(*args), _apply, True),
    "measure": (_measure_form, _measure, False),
    "check": (lambda *args, found: CheckForm(*args), _check, False),
    "remove": (lambda *args, found: RemoveForm(*args), _remove, True),
    "clean": (lambda *args, found: CleanForm(*args), _clean, False),
    "found": (lambda *args, found: FoundForm(*args), _found_tape, False),
}
TITLES = ACT_WORDS | {"found": "Report tape without a record"}


def _lockout_for(request: HttpRequest, found: RollerNow, act: str, seen: int) -> dict[str, Any]:
    """What a confirmed lockout holds for: one person, one act, one roller as it was seen, by one recipe."""
    recipe = found.recipe.pk if found.recipe else None
    return {"person": request.user.pk, "code": found.row.position.code, "act": act, "seen": seen, "recipe": recipe}


def _lockout_of(request: HttpRequest, found: RollerNow, act: str) -> dict[str, Any] | None:
    """The lockout that was confirmed for exactly this, if it is fresh."""
    token = request.POST.get("lockout_token", "")
    try:
        held = signing.loads(token, salt=SALT, max_age=LOCKOUT_HOLDS)
    except signing.BadSignature:
        return None
    if all(held.get(key) == value for key, value in _lockout_for(request, found, act, _seen(request)).items()):
        return {"lockout": held["lockout"], "lock_number": held["lock_number"]}
    messages.warning(request, "The roller or its recipe changed since you locked out. Look, and go through it again.")
    return None


def _seen(request: HttpRequest) -> int:
    """The newest fact that was on the page of the sender; where that is not said, none that there is."""
    text = request.POST.get("seen", "")
    return int(text) if re.fullmatch(r"[0-9]{1,18}", text) else -1


def _lockout_screen(request: HttpRequest, found: RollerNow, act: str, shell: dict[str, Any]) -> HttpResponse:
    """The lockout comes before any figure can be typed."""
    sent = request.method == "POST" and request.POST.get("screen") == "lockout"
    form = LockoutForm(request.POST if sent else None)
    context = shell | {"roller": found, "row": found.row, "act": act, "title": TITLES[act], "form": form}
    if not sent or not form.is_valid():
        asked = request.method == "GET" or "lockout_token" not in request.POST
        status = 200 if asked and not sent else 422
        return render(request, "rollers/tablet/lockout.html", context, status=status)
    try:
        held = confirm_lockout(form.confirmed(), form.cleaned_data["lock_number"])
    except Refused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        return render(request, "rollers/tablet/lockout.html", context, status=422)
    token = signing.dumps(held | _lockout_for(request, found, act, found.seen), salt=SALT)
    make_form = FORMS[act][0]
    context |= {"form": make_form(found=found), "lockout_token": token, "seen": found.seen}
    return render(request, "rollers/tablet/act.html", context)


@require_http_methods(["GET", "POST"])
def act(request: HttpRequest, code: str, act: str) -> HttpResponse:
    """One act at one roller: refused at its start where the person may not, recorded at its end."""
    if act not in FORMS:
        raise NotFound("act", act, "Go back to the roller and choose one there.")
    found = _roller(request, code)
    code = found.row.position.code
    make_form, write, under_lockout = FORMS[act]
    back = reverse("tablet:roller", args=[code])
    shell = _shell(request, back + (f"?{request.GET.urlencode()}" if request.GET else ""), f"Roller {code}")
    may = found.check if act == "check" else found.apply
    if act != "found" and not may.ok:
        context = {"roller": found, "row": found.row, "title": TITLES[act], "standing": may}
        return render(request, "rollers/tablet/may_not.html", shell | context, status=403)
    held = _lockout_of(request, found, act) if under_lockout else {}
    if held is None:
        return _lockout_screen(request, found, act, shell)
    form = make_form(request.POST, found=found) if request.method == "POST" else make_form(found=found)
    context = shell | {"roller": found, "row": found.row, "act": act, "title": TITLES[act], "form": form}
    seen = _seen(request) if request.method == "POST" else found.seen
    context |= {"lockout_token": request.POST.get("lockout_token", ""), "seen": seen}
    if request.method == "GET" or not form.is_valid():
        status = 200 if request.method == "GET" else 422
        return render(request, "rollers/tablet/act.html", context, status=status)
    common = held | {"by": request.user, "at": request.at, "seen": seen}  # type: ignore[attr-defined]
    try:
        fact = write(found, form, common)
    except Refused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        if isinstance(refusal, Conflict):
            context["seen"] = found.seen
        return render(request, "rollers/tablet/act.html", context, status=422)
    messages.success(request, f"Recorded: {code} {fact.get_kind_display()}, now {fact.state}.")
    return redirect(shell["back_url"])

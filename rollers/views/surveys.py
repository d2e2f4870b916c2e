"""The go-live survey: room by room, roller by roller."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.audit.services.signing import stands_for
from plant.errors import Refused
from plant.floor.access import room_by_code
from plant.floor.models import Room
from plant.floor.queries import room_kinds
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.asking import ask
from plant.web.refusing import keep_on_form
from rollers.access import position_by_code
from rollers.access_registry import survey_by_pk
from rollers.forms.signing import SecretForm
from rollers.forms.stocks import SeenForm
from rollers.models import RecipeVersion, Survey
from rollers.queries_registry import survey_facts
from rollers.services.surveys import close_survey, content_of, positions_to_look_at, record_seen, start_survey

OPENERS = frozenset({Role.QA, Role.SUPERVISOR, Role.ENGINEER, Role.KEEPER})
LOOKERS = OPENERS | {Role.OPERATOR, Role.MAINTENANCE}


def _trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    return [("Start", reverse("home")), ("Surveys", reverse("rollers:surveys")), *more]


@require_safe
def surveys(request: PersonRequest) -> HttpResponse:
    """Every room, and whether records have begun there."""
    newest: dict[int, Survey] = {}
    for each in Survey.objects.order_by("opened_at"):
        newest[each.room_id] = each
    kinds = room_kinds(request.at)
    context = {
        "rows": [
            {"room": room, "kind": kinds.get(room.pk, "not yet"), "survey": newest.get(room.pk)}
            for room in Room.objects.all()
        ],
        "may_open": bool(OPENERS & request.roles),
        "trail": [*_trail()[:1], ("Surveys", "")],
    }
    return render(request, "rollers/surveys/list.html", context)


@require_POST
def start(request: PersonRequest, code: str) -> HttpResponse:
    """Open the survey of a room."""
    made = start_survey(room_by_code(code), by=request.user, at=request.at)
    return redirect("rollers:survey", made.pk)


def _page(request: PersonRequest, found: Survey, form: SecretForm, status: int = 200) -> HttpResponse:
    seen = survey_facts(found)
    rows = [
        {"mounting": mounting, "fact": fact if (fact := seen.get(mounting.position_id)) else None}
        for mounting in positions_to_look_at(found)
    ]
    looked = sum(row["fact"] is not None for row in rows)
    signature = found.signature
    context = {
        "survey": found,
        "rows": rows,
        "looked": looked,
        "left": len(rows) - looked,
        "what": f"Survey of room {found.room.code}, {len(rows)} rollers as listed above",
        "form": form,
        "signatures": [signature] if signature else [],
        "holds": signature is not None and stands_for(signature, content_of(found)),
        "may_look": bool(LOOKERS & request.roles) and found.closed_at is None,
        "may_close": Role.QA in request.roles and found.closed_at is None,
        "trail": _trail((f"Room {found.room.code}", "")),
    }
    return render(request, "rollers/surveys/survey.html", context, status=status)


@require_safe
def survey(request: PersonRequest, pk: int) -> HttpResponse:
    """What was seen so far, and what is left to look at."""
    return _page(request, survey_by_pk(pk), SecretForm())


@require_http_methods(["GET", "POST"])
@for_roles(
    Role.OPERATOR,
    Role.MAINTENANCE,
    Role.SUPERVISOR,
    Role.ENGINEER,
    Role.QA,
    Role.KEEPER,
    act="Recording what is on a roller",
)
def look(request: PersonRequest, pk: int, code: str) -> HttpResponse:
    """Record what is on one roller."""
    found, position = survey_by_pk(pk), position_by_code(code)
    versions = list(
        RecipeVersion.objects.filter(recipe__position=position, recipe__kind="taped")
        .exclude(state__in=["draft", "withdrawn"])
        .select_related("recipe__position", "step")
    )
    back = reverse("rollers:survey", args=[found.pk])
    form = SeenForm(request.POST or None, versions=versions)

    def act(filled: SeenForm) -> HttpResponse:
        given = filled.cleaned_data
        version = next((v for v in versions if str(v.pk) == given["version"]), None)
        record_seen(
            found,
            position,
            state=given["state"],
            text=given["text"],
            pieces=given["pieces"] or 0,
            version=version,
            by=request.user,
            at=request.at,
        )
        messages.success(request, f"{position.code}: {given['state']} is recorded.")
        return redirect(back)

    return ask(
        request,
        form,
        act,
        template="rollers/surveys/look.html",
        heading=f"What is on {position.code}?",
        position=position,
        trail=_trail((f"Room {found.room.code}", back), (position.code, "")),
        back=back,
        action="Record",
    )


@require_POST
def close(request: PersonRequest, pk: int) -> HttpResponse:
    """QA signs. The secret first, so that a wrong one stays counted."""
    found, form, status = survey_by_pk(pk), SecretForm(request.POST), 422
    if form.is_valid():
        try:
            signed = confirm_secret(
                request.user, form.cleaned_data["secret"], at=request.at, time_zone=request.zone.key
            )
            close_survey(found, confirmation=signed)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, f"The survey of room {found.room.code} is closed. Records begin.")
            return redirect("rollers:survey", found.pk)
    return _page(request, survey_by_pk(pk), form, status)

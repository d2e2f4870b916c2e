"""Modules: the list, a page, read and understood, and what changed since."""

from datetime import datetime

from django.contrib import messages
from django.core import signing
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import NotFound, Refused
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from training import forms_learning as forms
from training.access_learning import module_by_number
from training.models import ModuleVersion, Reading
from training.pages import file_in_content, html_of
from training.queries_modules import changes_between, current_version, lang_of, languages_of, modules_now
from training.services.reading import MEANING, read_module

SALT = "module opened"
LANGUAGES = {"en": "English", "de": "Deutsch"}


@require_safe
def modules(request: PersonRequest) -> HttpResponse:
    """Every module, with what is read."""
    rows = modules_now(request.user, lang=request.GET.get("lang", "")[:10])
    context = {"rows": rows, "read": sum(row.read for row in rows), "minutes": sum(row.version.minutes for row in rows)}
    return render(request, "training/modules.html", context)


def _opened(version: ModuleVersion, at: datetime) -> str:
    return signing.dumps({"version": version.pk, "at": at.isoformat()}, salt=SALT)


def _opened_at(token: str, version: ModuleVersion, at: datetime) -> datetime:
    """When the sender's page was opened; now where the page does not say so itself."""
    try:
        held = signing.loads(token, salt=SALT)
    except signing.BadSignature:
        return at
    return datetime.fromisoformat(held["at"]) if held.get("version") == version.pk else at


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def module(request: PersonRequest, number: int) -> HttpResponse:
    """One module, in the language of the reader or the one that was chosen."""
    found = module_by_number(number)
    version = current_version(found, (request.GET.get("lang") or lang_of(request.user))[:10])
    if version is None:
        raise NotFound("module", str(number), "Choose from the list of modules.")
    form, status = forms.Signed(request.POST if request.method == "POST" else None), 200
    token = request.POST.get("opened") or _opened(version, request.at)
    if request.method == "POST":
        status = _read(request, version, token, form)
        if not status:
            said = gettext("Recorded: you read and understood module %(number)s, %(title)s.")
            messages.success(request, said % {"number": found.number, "title": version.title})
            return redirect("training:modules")
    mine = Reading.objects.filter(person=request.user, version__module=found).select_related("version").first()
    rows = modules_now(request.user)
    place = next((n for n, row in enumerate(rows) if row.version.module_id == found.pk), 0)
    context = {
        "version": version,
        "html": html_of(version.text, version.lang),
        "languages": [(lang, LANGUAGES.get(lang, lang)) for lang in languages_of(found)],
        "wanted": request.GET.get("lang") or lang_of(request.user),
        "reading": mine if mine and mine.version.number == version.number else None,
        "older": mine if mine and mine.version.number < version.number else None,
        "form": form,
        "opened": token,
        "meaning": MEANING,
        "my_roles": ", ".join(role_words(request.roles)),
        "before": rows[place - 1].version if place else None,
        "after": rows[place + 1].version if place + 1 < len(rows) else None,
    }
    return render(request, "training/module.html", context, status=status)


def _read(request: PersonRequest, version: ModuleVersion, token: str, form: forms.Signed) -> int:
    """Record it; 0 where that went well, else the status of the refusal, which is on the form."""
    confirmation = None
    if version.needs_signature and not form.is_valid():
        return 422
    form.full_clean()
    if not version.needs_signature:
        form.errors.clear()
    try:
        if request.POST.get("version") != str(version.pk):
            raise Refused("newer-version", "The module changed since you opened it. Read it as it stands now.")
        if version.needs_signature:
            secret = form.cleaned_data["secret"]
            confirmation = confirm_secret(request.user, secret, at=request.at, time_zone=request.zone.key)
        opened = _opened_at(token, version, request.at)
        read_module(version, opened_at=opened, by=request.user, at=request.at, confirmation=confirmation)
    except Refused as refusal:
        return keep_on_form(form, refusal)
    return 0


@require_safe
def changes(request: PersonRequest, number: int) -> HttpResponse:
    """What changed since the version that the reader read last."""
    found = module_by_number(number)
    mine = Reading.objects.filter(person=request.user, version__module=found).select_related("version").first()
    now = current_version(found, mine.version.lang if mine else lang_of(request.user))
    passages = changes_between(mine.version, now) if mine and now else []
    context = {"version": now, "mine": mine, "passages": passages}
    return render(request, "training/module_changes.html", context)


@require_safe
def content_file(request: PersonRequest, lang: str, name: str) -> FileResponse:
    """A picture or clip of a module."""
    path, kind = file_in_content(lang, name)
    return FileResponse(path.open("rb"), content_type=kind)

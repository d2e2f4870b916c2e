"""Files in and out: look first, then take in; download what is recorded."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.datastructures import MultiValueDict
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.errors import NotFound, Refused
from plant.floor.access import line_by_code
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from rollers.forms.stocks import FileForm
from rollers.models import ImportBatch
from rollers.services.exporting import blank, example, export
from rollers.services.files import kept
from rollers.services.files.kinds import KINDS, kind_by_code
from rollers.services.files.reading import MOST_BYTES
from rollers.services.files.taking import Kind
from rollers.services.importing import SHOWN, examine, take_in


def _trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    return [("Start", reverse("home")), ("Files", reverse("rollers:import-overview")), *more]


@require_safe
def overview(request: PersonRequest) -> HttpResponse:
    """Every kind of file, in the order in which a new plant brings them."""
    context = {
        "kinds": KINDS.values(),
        "batches": ImportBatch.objects.select_related("by").order_by("-pk")[:30],
        "trail": [*_trail()[:1], ("Files", "")],
    }
    return render(request, "rollers/importing/overview.html", context)


def _page(request: PersonRequest, kind: Kind, form: FileForm, status: int = 200, **more: Any) -> HttpResponse:
    context = {"kind": kind, "form": form, "columns": kind.columns, "shown": SHOWN, "trail": _trail((kind.title, ""))}
    return render(request, "rollers/importing/bring.html", context | more, status=status)


@require_http_methods(["GET", "POST"])
def bring(request: PersonRequest, code: str) -> HttpResponse:
    """The columns of a kind of file; a file sent here is looked at and kept aside."""
    kind = kind_by_code(code)
    form = FileForm(request.POST or None, request.FILES or None) if request.method == "POST" else FileForm()
    if request.method != "POST" or not form.is_valid():
        return _page(request, kind, form, 422 if form.is_bound else 200)
    upload = form.cleaned_data["file"]
    try:
        if upload.size > MOST_BYTES:
            size = upload.size / 1024 / 1024
            sentence = f"The file has {size:.1f} MB; at most 10 MB are taken. Split it into several files."
            raise Refused("too-big", sentence, field="file")
        content = upload.read()
        report = examine(kind, content, by=request.user, at=request.at)
    except Refused as refusal:
        return _page(request, kind, form, keep_on_form(form, refusal))
    digest = kept.keep(content, request.user, request.at) if report.is_good else ""
    return _page(
        request, kind, FileForm(), 200 if report.is_good else 422, report=report, digest=digest, file_name=upload.name
    )


@require_POST
def confirm(request: PersonRequest, code: str) -> HttpResponse:
    """Take in the file that was looked at."""
    kind, digest = kind_by_code(code), request.POST.get("digest", "")
    form = FileForm({}, MultiValueDict())
    form.errors.clear()
    try:
        content = kept.fetch(request.user, digest)
        batch = take_in(kind, content, file_name=request.POST.get("file_name", ""), by=request.user, at=request.at)
    except Refused as refusal:
        return _page(request, kind, form, keep_on_form(form, refusal))
    kept.forget(request.user, digest)
    messages.success(request, f"{kind.title}: {batch.rows} row{' is' if batch.rows == 1 else 's are'} taken in.")
    return redirect("rollers:import-overview")


def _download(name: str, text: str) -> HttpResponse:
    # The mark at the beginning tells spreadsheets that the letters are UTF-8.
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


@require_safe
def template_file(request: PersonRequest, code: str, which: str) -> HttpResponse:
    """The blank file or the example of a kind."""
    kind = kind_by_code(code)
    if which not in ("blank", "example"):
        raise NotFound("file", which, "There is a blank file and an example.")
    return _download(f"{kind.code}-{which}", blank(kind) if which == "blank" else example(kind))


@require_safe
def write(request: PersonRequest, code: str) -> HttpResponse:
    """What is recorded, as a file that can be brought in again."""
    kind = kind_by_code(code)
    filters = {name: request.GET.get(name, "").strip()[:40] for name in kind.filters}
    if filters.get("line"):
        filters["line"] = line_by_code(filters["line"]).code
    text = export(kind, filters=filters, by=request.user, at=request.at)
    stamp = request.at.astimezone(request.zone).strftime("%Y-%m-%d")
    return _download(f"{kind.code}-{stamp}", text)

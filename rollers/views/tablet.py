"""The shop floor: line, roller, and the steps of a job."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from plant.errors import NotFound
from plant.floor.models import Line, ProductVersion
from plant.people.queries import role_words
from rollers.models import Lockout
from rollers.queries_application import missing_pieces
from rollers.tablet import RollerNow, line_now, line_picture, roller_now
from rollers.tablet_job import TRACKS, Job, job_now
from rollers.views import shown


def shell(request: HttpRequest, back: str = "", label: str = "") -> dict[str, Any]:
    """What every screen of the shop floor has around its task."""
    person = request.user
    return {
        "back_url": back,
        "back_label": label,
        "person_name": getattr(person, "name", ""),
        "person_role": ", ".join(role_words(shown.roles_held(request))),
        "sign_out_url": reverse("people:sign-out"),
        "query": request.GET.urlencode(),
    }


def with_query(request: HttpRequest, address: str) -> str:
    """An address that keeps what was chosen, for example the product."""
    query = request.GET.urlencode()
    return f"{address}?{query}" if query else address


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
    rows = [line_now(line, shown.moment_at(request)) for line in Line.objects.filter(in_use=True)]
    return render(request, "rollers/tablet/lines.html", shell(request) | {"rows": rows})


@require_GET
def line(request: HttpRequest, code: str) -> HttpResponse:
    """One line: may it run, and its rollers to tap."""
    where, version = _line(code), _chosen(request)
    now = line_now(where, shown.moment_at(request), version)
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
    return render(request, "rollers/tablet/line.html", shell(request, reverse("tablet:lines"), "Lines") | context)


def find_roller(request: HttpRequest, code: str) -> RollerNow:
    """The roller as it stands now for the person who asks."""
    return roller_now(code, shown.person_of(request), shown.moment_at(request), _chosen(request))


ACT_WORDS = {
    "apply": "Put the tape on",
    "measure": "Measure the build",
    "count": "Count, and lock off",
    "check": "Check as second person",
    "restart": "Record the restart",
    "look": "Look at the tape",
    "remove": "Take the tape off",
    "clean": "Clean the face",
    "bare": "Looked at: bare",
    "confirm": "Look at reported tape",
    "settle": "Settle what is on it",
}
IN_JOB = {"apply": "apply", "measure": "apply", "count": "apply", "remove": "remove", "clean": "clean"}
CHECKS = ("check", "confirm", "settle")


def address_of(code: str, act: str) -> str:
    """Where an act is done: a step of a job, or a screen of its own."""
    if act in IN_JOB:
        return reverse("tablet:job", args=[code, IN_JOB[act]])
    return reverse("tablet:act", args=[code, act])


def _offered(found: RollerNow, act: str) -> bool:
    if act in CHECKS:
        return found.check.ok
    mine = act in IN_JOB and act != "apply"  # who began while certified may finish: the step itself asks again
    return found.apply.ok or act in ("look", "bare", "restart") or mine


@require_GET
def roller(request: HttpRequest, code: str) -> HttpResponse:
    """One roller: what is on it, what belongs there, the verdict, and may I."""
    found = find_roller(request, code)
    row, zone = found.row, shown.zone_of(request)
    mine = Lockout.objects.filter(position=row.position, person=shown.person_of(request), removed_at=None).first()
    acts = [(act, ACT_WORDS[act], address_of(row.position.code, act)) for act in found.acts if _offered(found, act)]
    back = with_query(request, reverse("tablet:line", args=[row.position.line.code]))
    context = {
        "roller": found,
        "row": row,
        "acts": acts,
        "look_at": shown.brief_text(found.look.look.due, zone) if found.look else "",
        "mine": mine,
        "my_job": address_of(row.position.code, _job_of(found, mine)) if mine else "",
        "missing": missing_pieces([row.position]),
        "trains": "apply" in found.acts and not found.apply.ok,
        "may_void": found.application is not None,
        "unfinished": mine is not None and mine.holds,
    }
    return render(
        request,
        "rollers/tablet/roller.html",
        shell(request, back, f"{gettext('Line')} {row.position.line.code}") | context,
    )


def _job_of(found: RollerNow, mine: Lockout) -> str:
    if found.is_removing:
        return "remove"
    return {"apply": "apply", "remove": "remove", "clean": "clean"}.get(mine.purpose, "apply")


def job_of(request: HttpRequest, found: RollerNow, track: str) -> Job:
    """The job of the person who asks."""
    if track not in TRACKS:
        raise NotFound("job", track, "Go back to the roller and choose one there.")
    return job_now(found, track, shown.person_of(request).pk, shown.zone_of(request))


def to_roller(request: HttpRequest, code: str) -> HttpResponse:
    """Back to the roller, with what was chosen."""
    return redirect(with_query(request, reverse("tablet:roller", args=[code])))

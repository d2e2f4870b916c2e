"""The certificate itself, the page that its card leads to, files to take away, calendars."""

from datetime import UTC, datetime, time, timedelta

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.dateparse import parse_date
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from plant.errors import Refused
from plant.floor.queries import the_plant
from plant.people.access import person_by_id, require_insider
from plant.people.requests import PersonRequest, TimedRequest
from training.access import certificate_by_id
from training.calendars import calendar_of
from training.cards import check_card
from training.models import Due
from training.queries import state_of
from training.reports import signature_of
from training.services.exporting import export_matrix, export_record
from training.services.feeds import end_feed, feed_of, make_feed
from training.throttles import require_slow

NEW_FEED = "new-calendar-address"


@require_safe
def certificate(request: PersonRequest, pk: int) -> HttpResponse:
    """One certificate, with what was done to it and its signature; to print as card or sheet."""
    found = certificate_by_id(pk)
    if found.person_id != request.user.pk:
        require_insider(request.user, at=request.at)
    context = {
        "certificate": found,
        "state": state_of(found, request.at, request.zone),
        "needs": list(found.skill.needs.all()),
        "signature": signature_of(found),
    }
    return render(request, "training/certificate.html", context)


@never_cache
@login_not_required
@require_safe
def check(request: TimedRequest, token: str) -> HttpResponse:
    """Valid or not, and no more; for whoever scans a card."""
    require_slow(request)
    response = render(request, "training/check.html", {"checked": check_card(token, request.at)})
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["X-Robots-Tag"] = "noindex"
    return response


def _as_of(request: PersonRequest) -> datetime:
    """The end of the day that was asked for, or now."""
    typed = request.GET.get("as_of", "").strip()
    if not typed:
        return request.at
    try:
        day = parse_date(typed)
    except ValueError:
        day = None
    if day is None or day.year < 1990:
        sentence = f"{typed[:20]!r} is no day. Write it as year-month-day, for example 2026-03-25."
        raise Refused("bad-day", sentence, field="as_of")
    ends = datetime.combine(day + timedelta(days=1), time(0), request.zone).astimezone(UTC)
    return min(ends - timedelta(seconds=1), request.at)


def _csv(text: str, name: str) -> HttpResponse:
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


@require_safe
def record_csv(request: PersonRequest, key: int) -> HttpResponse:
    """The training record of a person as a table."""
    about = person_by_id(key)
    text = export_record(about, as_of=_as_of(request), by=request.user, at=request.at)
    return _csv(text, f"training-record-{about.pk}")


@require_safe
def matrix_csv(request: PersonRequest) -> HttpResponse:
    """Who holds what, as a table."""
    search, shift = (request.GET.get(name, "").strip()[:60] for name in ("search", "home"))
    text = export_matrix(search=search, shift=shift, as_of=_as_of(request), by=request.user, at=request.at)
    return _csv(text, "training-matrix")


@require_POST
def new_feed(request: PersonRequest) -> HttpResponse:
    """A new private address of a calendar; it is shown once, on the next page."""
    feed, token = make_feed(whole_plant="whole" in request.POST, by=request.user, at=request.at)
    address = request.build_absolute_uri(reverse("training:calendar", args=[token]))
    whose = "the whole plant" if feed.person_id is None else "you"
    request.session[NEW_FEED] = address
    messages.success(request, f"The calendar of {whose} has a new address; the one before it, if any, has ended.")
    return redirect("training:person", request.user.pk)


@require_POST
def stop_feed(request: PersonRequest) -> HttpResponse:
    """The address answers no more."""
    ended = end_feed(whole_plant="whole" in request.POST, by=request.user, at=request.at)
    messages.success(request, "The address has ended." if ended else "There was no address to end.")
    return redirect("training:person", request.user.pk)


@never_cache
@login_not_required
@require_safe
def calendar(request: TimedRequest, token: str) -> HttpResponse:
    """What is due, for a calendar program."""
    require_slow(request)
    feed = feed_of(token, request.at)
    dues = Due.objects.filter(closed_at=None).select_related("person", "skill").order_by("due_on", "pk")
    plant, mine = the_plant(), feed.person_id is not None
    name = f"{plant.name}: due to {feed.person.name}" if feed.person else f"{plant.name}: due dates"
    rows = list(dues.filter(person=feed.person) if mine else dues)
    body = calendar_of(rows, plant=plant, name=name, mine=mine, base_url=settings.BASE_URL)
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response.headers["Content-Disposition"] = 'inline; filename="due-dates.ics"'
    response.headers["Referrer-Policy"] = "no-referrer"
    return response


def shown_once(request: HttpRequest) -> str:
    """The address that was made a moment ago; then it is forgotten."""
    return request.session.pop(NEW_FEED, "")

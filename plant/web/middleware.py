"""Security headers, and refusals as answers."""

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from plant.errors import Conflict, Forbidden, NotFound, Refused, TooFast

POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self'; script-src 'self'; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'self'; object-src 'none'"
)


class SecurityHeaders:
    """Nothing is loaded from elsewhere, nothing frames the pages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", "geolocation=(), microphone=(), camera=(self)")
        person = getattr(request, "user", None)  # absent where a middleware above answered
        if person is not None and person.is_authenticated:
            response.headers.setdefault("Cache-Control", "private, no-store")
        return response


def status_of(refusal: Refused) -> int:
    """The HTTP status of a refusal."""
    kinds = ((NotFound, 404), (Forbidden, 403), (Conflict, 409), (TooFast, 429))
    return next((status for kind, status in kinds if isinstance(refusal, kind)), 422)


def answer(request: HttpRequest, refusal: Refused) -> HttpResponse:
    """A refusal as the asker reads it: JSON, a page of the tablet or a page of the desk."""
    status = status_of(refusal)
    if request.headers.get("Accept", "").startswith("application/json") or request.path.startswith("/api/"):
        body = {"code": refusal.code, "sentence": refusal.sentence, "field": refusal.field}
        return JsonResponse(body | {"details": refusal.details}, status=status)
    on_tablet = request.path.startswith("/tablet/")
    shell, home = ("base_tablet.html", "/tablet/") if on_tablet else ("base.html", "/")
    return render(request, "refused.html", {"refusal": refusal, "shell": shell, "home": home}, status=status)


class Refusals:
    """A refusal that no form caught becomes a page with its sentence, never a traceback."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # No code, name or number holds a zero byte, and PostgreSQL takes none even to look for.
        if "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            return answer(request, NotFound("page", request.path, "The address holds a zero byte. Type it again."))
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer `Refused`; leave everything else to Django."""
        if isinstance(exception, Http404):
            exception = NotFound("page", request.path)
        if not isinstance(exception, Refused):
            return None
        return answer(request, exception)

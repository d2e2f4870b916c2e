"""Pages without sign-in answer nobody fast enough to guess addresses."""

from django.http import HttpRequest
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView

from plant.errors import TooFast


class _ByAddress(SimpleRateThrottle):
    """So many requests a minute from one network address."""

    rate = "60/min"
    scope = "open-pages"

    def get_cache_key(self, request: Request, view: APIView) -> str:
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}


def require_slow(request: HttpRequest) -> None:
    """Let pass who asks slowly.

    Raises
    ------
    TooFast
        After sixty requests in a minute.
    """
    throttle = _ByAddress()
    if not throttle.allow_request(Request(request), APIView()):
        wait = int(throttle.wait() or 60)
        raise TooFast("too-fast", f"Too many requests from this address. Try again in {wait} seconds.")

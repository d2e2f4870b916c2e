"""Asking for the role before a page of questions is shown, so that nobody fills in what will be refused."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpResponse

from plant.people.access import require_role
from plant.people.requests import PersonRequest

View = Callable[..., HttpResponse]


def for_roles(*roles: str, act: str) -> Callable[[View], View]:
    """Open a view only to who holds one of the roles; others read which roles and persons can.

    The service behind the page asks again: this gate spares typing, it guards nothing by itself.
    """

    def gated(view: View) -> View:
        @wraps(view)
        def opened(request: PersonRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            require_role(request.user, *roles, at=request.at, act=act)
            return view(request, *args, **kwargs)

        return opened

    return gated

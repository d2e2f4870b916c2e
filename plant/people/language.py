"""Which language a page speaks: that of the person, on pages that are translated; English on all others.

The browser's wish is not asked. A tablet is shared, and a page half in the language of the browser is worse than an
English one.
"""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import translation

from plant.people.models import Person

# Parts and addresses whose templates are translated: what an operator needs at the roller and to learn.
LEARNING = (
    "path",
    "skill-path",
    "modules",
    "module",
    "module-changes",
    "begin-test",
    "begin-oral",
    "test",
    "keep-picks",
)
TRANSLATED = frozenset(
    {"tablet", "causes-tablet:report", "training:person", *(f"training:{name}" for name in LEARNING)}
)


def language_of(person: object) -> str:
    """The language of a person among those that the screens speak; English where it is another or nobody's."""
    wanted = person.language.lower() if isinstance(person, Person) else ""
    spoken = [code for code, _ in settings.LANGUAGES]
    return next(
        (code for code in (wanted, wanted.split("-")[0]) if code in spoken),
        settings.LANGUAGE_CODE,
    )


class OwnLanguage:
    """Speaks the language of who is signed in, and says so in `Content-Language`."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with translation.override(settings.LANGUAGE_CODE):
            response = self.get_response(request)
            response.headers.setdefault("Content-Language", translation.get_language() or settings.LANGUAGE_CODE)
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> None:
        """The address is known now, and with it whether its pages are translated."""
        match = request.resolver_match
        speaks = match is not None and bool(TRANSLATED & {match.namespace, match.view_name})
        request.is_translated = speaks  # type: ignore[attr-defined]
        if speaks:
            translation.activate(language_of(request.user))

"""What every page's shell needs."""

from typing import Any

from django.http import HttpRequest


def shell(request: HttpRequest) -> dict[str, Any]:
    """The navigation and the person, for the shells."""
    return {}

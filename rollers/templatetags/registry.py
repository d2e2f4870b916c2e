"""`{% load registry %}{% setup_progress as progress %}`: what a new plant still needs."""

from typing import Any

from django import template

from plant.web import clock
from rollers import setting_up

register = template.Library()


@register.simple_tag(takes_context=True)
def setup_progress(context: Any) -> setting_up.Progress:
    """The steps of setting up, at the moment of the request."""
    request = context.get("request")
    return setting_up.setup_progress(getattr(request, "at", None) or clock.now())

"""The one place where views and commands read the time; services and rules get it as an argument."""

from datetime import datetime

from django.utils import timezone


def now() -> datetime:
    """This moment, in UTC."""
    return timezone.now()

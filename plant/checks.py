"""System checks: what must be right before the server starts."""

from typing import Any

from django.conf import settings
from django.core.checks import Error, register


@register()
def sqlite_settings(app_configs: Any, **kwargs: Any) -> list[Error]:
    """SQLite without immediate transactions loses writes under load; refuse to start that way."""
    database = settings.DATABASES["default"]
    if "sqlite" not in database["ENGINE"]:
        return []
    if database.get("OPTIONS", {}).get("transaction_mode") == "IMMEDIATE":
        return []
    return [Error("SQLite must run with transaction_mode IMMEDIATE", id="plant.E001")]

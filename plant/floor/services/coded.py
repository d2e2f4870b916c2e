"""Rows known by a code: written once, whatever the case of the letters."""

from typing import Any, TypeVar

from django.db import IntegrityError, models, transaction

from plant.errors import Refused

Row = TypeVar("Row", bound=models.Model)


def create_coded(model: type[Row], *, what: str, code: str, field: str = "code", **fields: Any) -> Row:
    """Create a row under a code that nobody uses yet; of two who try at once, the second is refused.

    Raises
    ------
    Refused
        When the code is taken.
    """
    taken = Refused(
        "code-taken", f"There is a {what} {code} already. Choose another code, or open that one.", field=field
    )
    if model._default_manager.filter(**{f"{field}__iexact": code}).exists():
        raise taken
    try:
        with transaction.atomic():
            return model._default_manager.create(**{field: code}, **fields)
    except IntegrityError:
        if model._default_manager.filter(**{field: code}).exists():
            raise taken from None
        raise

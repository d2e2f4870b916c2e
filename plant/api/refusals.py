"""How the API says no: the same code and sentence as the screens."""

from typing import Any

from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler

from plant.errors import Refused
from plant.web.middleware import status_of


def _first(detail: Any, field: str = "") -> tuple[str, str]:
    """The first complaint of a serializer, with the dotted name of its field."""
    if isinstance(detail, dict):
        key = next(iter(detail))
        name = "" if key == "non_field_errors" else str(key)
        return _first(detail[key], ".".join(part for part in (field, name) if part))
    if isinstance(detail, list):
        return _first(detail[0], field)
    return field, str(detail)


def answer(trouble: Exception, context: dict[str, Any]) -> Response | None:
    """Turn refusals and shape errors into {code, sentence, field, details}; leave the rest to REST framework."""
    if isinstance(trouble, Refused):
        body = {"code": trouble.code, "sentence": trouble.sentence, "field": trouble.field, "details": trouble.details}
        return Response(body, status=status_of(trouble))
    response = exception_handler(trouble, context)
    if response is None:
        return None
    if isinstance(trouble, ValidationError):
        field, said = _first(trouble.detail)
        sentence = f"{field}: {said}" if field else said
        response.data = {"code": "bad-input", "sentence": sentence, "field": field, "details": []}
    else:
        code = getattr(trouble, "default_code", "refused")
        sentence = str(response.data.get("detail", trouble))
        response.data = {"code": code, "sentence": sentence, "field": "", "details": []}
    return response

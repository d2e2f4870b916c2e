"""How the API says no: the same code and sentence as the screens."""

from typing import Any

from django.core.exceptions import RequestDataTooBig
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler

from plant.errors import Refused
from plant.web.middleware import status_of

# What the reader of JSON does not take for wrong input by itself.
BEYOND_REASON = (
    (RecursionError, 400, "The JSON is nested too deeply to be read. Send one plain object."),
    (RequestDataTooBig, 413, "The request is too large. A case or an order has a few kilobytes; check what was sent."),
)


def _first(detail: Any, field: str = "") -> tuple[str, str]:
    """The first complaint of a serializer, with the dotted name of its field."""
    if isinstance(detail, dict):
        key = next(iter(detail))
        name = "" if key == "non_field_errors" else str(key)
        return _first(detail[key], ".".join(part for part in (field, name) if part))
    if isinstance(detail, list):
        return _first(detail[0], field)
    return field, str(detail)


def _writable(text: str) -> str:
    """What was sent may be named in a sentence; half a character (a lone surrogate) cannot be written."""
    return text.encode("utf-8", "replace").decode()


def answer(trouble: Exception, context: dict[str, Any]) -> Response | None:
    """Turn refusals and shape errors into {code, sentence, field, details}; leave the rest to REST framework."""
    if isinstance(trouble, Refused):
        details = [_writable(line) for line in trouble.details]
        sentence, field = _writable(trouble.sentence), _writable(trouble.field)
        body = {"code": trouble.code, "sentence": sentence, "field": field, "details": details}
        return Response(body, status=status_of(trouble))
    for kind, status, sentence in BEYOND_REASON:
        if isinstance(trouble, kind):
            return Response({"code": "bad-input", "sentence": sentence, "field": "", "details": []}, status=status)
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

"""A refusal on the form that asked: what was typed stays, the sentence stands where it belongs."""

from django.forms import BaseForm

from plant.errors import Refused
from plant.web.middleware import status_of


def keep_on_form(form: BaseForm, refusal: Refused) -> int:
    """Put the sentence on the field it is about, else on the form; give back the HTTP status."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
    for line in refusal.details:
        form.add_error(None, line)
    return status_of(refusal)

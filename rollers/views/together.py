"""Two persons who sign at one desk: each types the own secret, the failed try of either stays counted."""

from django.http import HttpRequest

from plant.audit.services import Confirmation
from plant.errors import Refused
from plant.people.access import person_by_number
from plant.people.services import confirm_secret
from rollers.forms.line import TwoSignForm
from rollers.views import shown


def both(request: HttpRequest, form: TwoSignForm) -> tuple[Confirmation, Confirmation]:
    """The one who is signed in, then the other. Before the act, outside its transaction."""
    mine = shown.confirm(request, form.cleaned_data["secret"])
    try:
        other = person_by_number(form.cleaned_data["other_staff_no"])
    except Refused as refusal:
        raise Refused(refusal.code, refusal.sentence, field="other_staff_no") from None
    try:
        theirs = confirm_secret(
            other,
            form.cleaned_data["other_secret"],
            at=shown.moment_at(request),
            time_zone=shown.zone_of(request).key,
        )
    except Refused as refusal:
        raise Refused(refusal.code, f"{other.name}: {refusal.sentence}", field="other_secret") from None
    return mine, theirs

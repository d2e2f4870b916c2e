"""`{% load certificates %}`: certificates on pages of lower layers, which know persons but not their training.

{% certificates_of person %}        the person's certificates as a table, at the moment of the request
{% certificates_of person look_only=True %}
{% certificate_state line.state %}  word, shape and colour of one state
"""

from typing import Any

from django import template
from django.utils.safestring import SafeString

from plant.people.models import Person
from plant.people.queries import roles_of
from plant.web.templatetags.ui import state as roller_mark
from plant.web.templatetags.ui import verdict
from training.holdings import certificates_of as lines_of
from training.rules import State
from training.services.certificates import IMPORTERS, ISSUERS
from training.services.suspending import MAY

register = template.Library()


@register.simple_tag
def certificate_state(value: State, held_back: bool = False) -> SafeString:
    """Valid is a tick, suspended or held back a roller in chocks, lapsed and withdrawn a stop, not yet a flag."""
    if value == State.SUSPENDED or held_back:
        return roller_mark("blocked", word="does not count" if held_back else "suspended")
    marks = {State.VALID: "fits", State.NOT_YET: "notice"}
    return verdict(marks.get(value, "refused"), word=value.value.replace("-", " "))


@register.inclusion_tag("training/_certificates.html", takes_context=True)
def certificates_of(context: Any, person: Person, look_only: bool = False) -> dict[str, Any]:
    """The certificates of a person, with what the reader may do to them unless it is to look only."""
    request = context["request"]
    roles = roles_of(request.user, request.at)
    own = person.pk == request.user.pk
    belongs = not look_only and person.active_at(request.at) and person.employer != Person.Employer.OUTSIDE
    return {
        "person": person,
        "own": own,
        "lines": lines_of(person, request.at),
        "may_issue": belongs and not own and bool(roles & set(ISSUERS)),
        "may_import": belongs and not own and bool(roles & set(IMPORTERS)),
        "may_act": not look_only and bool(roles & set(MAY)),
    }

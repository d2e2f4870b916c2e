"""How long records are kept, what is due, and orders to remove it."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from plant.audit.services.signing import as_shown
from plant.floor.models import Room
from plant.floor.queries import room_kinds
from plant.people.access import require_role
from plant.people.models import Role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.records import access, forms, rules
from plant.records.models import PurgeOrder
from plant.records.purging import PURGEABLES
from plant.records.services.retaining import export_due, kept_for, order_content, purge, raise_retention, rule_content
from plant.web.asking import ask


def _signed(rule: Any) -> dict[str, Any] | None:
    return as_shown(rule.signature, rule_content(rule)) if rule is not None else None


def _kept(request: PersonRequest) -> list[dict[str, Any]]:
    kinds = room_kinds(request.at)
    rows = [("the whole plant", "records", kept_for("records")), ("persons", "answers", kept_for("answers"))]
    for room in Room.objects.order_by("code"):
        kind = kinds.get(room.pk, "")
        rows.append((f"room {room.code}, {kind}", "records", kept_for("records", room, kind)))
    return [
        {"where": where, "matter": matter, "years": kept.years, "rule": kept.rule, "signed": _signed(kept.rule)}
        for where, matter, kept in rows
    ]


def _due(request: PersonRequest) -> list[dict[str, Any]]:
    found = []
    for matter, item in PURGEABLES.items():
        before = rules.due_before(request.at, kept_for(matter).years)
        found.append({"matter": matter, "title": item.title, "before": before, "count": len(item.due(before))})
    return found


def _orders() -> list[tuple[PurgeOrder, dict[str, Any] | None]]:
    orders = PurgeOrder.objects.select_related("signature", "exported_by")[:20]
    return [(row, as_shown(row.signature, order_content(row)) if row.signature else None) for row in orders]


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def retention(request: PersonRequest) -> HttpResponse:
    """What is kept how long; QA keeps longer by a signature."""
    require_role(request.user, *access.EXPORTERS, at=request.at, act="Reading how long records are kept")
    form = forms.Longer(request.POST or None)

    def act(form: forms.Longer) -> HttpResponse:
        require_role(request.user, Role.QA, at=request.at, act="Setting how long records are kept")
        given = form.cleaned_data
        confirmation = confirm_secret(request.user, given["secret"], at=request.at, time_zone=request.zone.key)
        raise_retention(
            given["matter"],
            given["room"],
            years=given["years"],
            product_life_years=given["product_life_years"],
            reason=given["reason"],
            confirmation=confirmation,
        )
        messages.success(request, "Kept longer from now on.")
        return redirect("records:retention")

    return ask(
        request,
        form,
        act,
        template="records/retention.html",
        kept=_kept(request),
        due=_due(request),
        orders=_orders(),
        is_qa=Role.QA in request.roles,
        may_export=bool(request.roles & {Role.QA, Role.KEEPER}),
        my_roles=", ".join(role_words(request.roles)),
    )


@require_POST
def export(request: PersonRequest, matter: str) -> HttpResponse:
    """What is due, as a file to keep elsewhere. The order that removes it waits to be signed."""
    order, file = export_due(access.purgeable(matter).matter, by=request.user, at=request.at)
    response = HttpResponse(file, content_type="application/jsonl")
    response.headers["Content-Disposition"] = f'attachment; filename="due-{order.matter}-order-{order.pk}.jsonl"'
    return response


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def order(request: PersonRequest, pk: int) -> HttpResponse:
    """One order; QA signs it, and then it is carried out."""
    require_role(request.user, *access.EXPORTERS, at=request.at, act="Reading a purge order")
    found = access.purge_order(pk)
    form = forms.Order(request.POST or None)

    def act(form: forms.Order) -> HttpResponse:
        require_role(request.user, Role.QA, at=request.at, act="Ordering a purge")
        given = form.cleaned_data
        confirmation = confirm_secret(request.user, given["secret"], at=request.at, time_zone=request.zone.key)
        purge(found, kept_where=given["kept_where"], reason=given["reason"], confirmation=confirmation)
        messages.success(request, "Removed. The order, the digests and your signature stay.")
        return redirect("records:order", found.pk)

    return ask(
        request,
        form,
        act,
        template="records/order.html",
        order=found,
        item=PURGEABLES.get(found.matter),
        signed=as_shown(found.signature, order_content(found)) if found.signature else None,
        is_qa=Role.QA in request.roles,
        my_roles=", ".join(role_words(request.roles)),
        what=f"{len(found.listed)} rows, order {found.pk}",
    )

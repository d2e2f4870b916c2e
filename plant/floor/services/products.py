"""Products: changed figures are a new version, the old one stays."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor import rules
from plant.floor.models import Line, Product, ProductVersion
from plant.floor.services.coded import create_coded
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import taken

STREAM = "products"
OPTIONAL = {"modulus_cd_mpa", "poisson_md", "yield_strain_pct", "max_contact_temp_c"}
DEFAULTS = {"wander_mm": 5, "roughness_um": 0}
TEXTS = ("modulus_direction", "modulus_method", "modulus_on", "porous", "contact_side")


def checked_version(values: Mapping[str, Any], *, confirmed: bool) -> ProductVersion:
    """A version without product and number.

    `values`: the fields of a product version; figures as numbers in the field's unit or as `Typed`.

    Raises
    ------
    Refused
        For missing, impossible or contradicting figures, and for a doubtful line strain not confirmed.
    """
    unknown = set(values) - set(rules.PRODUCT_BOUNDS) - set(TEXTS)
    if unknown:
        raise Refused("unknown-field", f"A product has no {', '.join(sorted(unknown))}. Leave it out.")
    filled = {**DEFAULTS, **{field: value for field, value in values.items() if value is not None}}
    for field in rules.PRODUCT_BOUNDS:
        if field not in filled and field not in OPTIONAL:
            sentence = f"The {rules.words(field)} is missing. The process engineer or the product sheet has it."
            raise Refused("empty", sentence, field=field)
    numbers, typed = taken(filled, rules.PRODUCT_BOUNDS)
    rules.refuse_out_of_bounds(numbers, rules.PRODUCT_BOUNDS)
    rules.refuse_out_of_order(numbers)
    doubt = rules.strain_doubt(numbers)
    if doubt and not confirmed:
        raise Refused("strain-doubtful", doubt, field="modulus_md_mpa")
    texts = {field: filled[field] for field in TEXTS if field in filled}
    if texts.get("modulus_direction", "") not in ("MD", ""):
        sentence = "Only the modulus in machine direction (MD) counts here. Leave it empty when it is not known."
        raise Refused("direction", sentence, field="modulus_direction")
    if texts.get("contact_side", "") not in ("A", "B", ""):
        raise Refused("contact-side", "The web side that touches the product is A or B.", field="contact_side")
    return ProductVersion(typed=typed, **numbers, **texts)


def _facts(version: ProductVersion) -> dict[str, Any]:
    figures = {field: getattr(version, field) for field in rules.PRODUCT_BOUNDS}
    return figures | {"version": version.number, "porous": version.porous, "typed": version.typed}


@transaction.atomic
def enter_product(
    *,
    code: str,
    name: str,
    lines: Sequence[Line],
    values: Mapping[str, Any],
    by: Person,
    at: datetime,
    family: str = "",
    confirmed: bool = False,
) -> ProductVersion:
    """Enter a product with its first figures. `confirmed`: a line strain outside the usual range is meant."""
    require_role(by, Role.ENGINEER, Role.KEEPER, at=at, act="Entering a product")
    if not lines:
        raise Refused("no-line", f"Say on which lines {code} may run; choose at least one.", field="lines")
    version = checked_version(values, confirmed=confirmed)
    product = create_coded(
        Product,
        what="product",
        code=rules.checked_code(code, what="product", most=20),
        name=rules.checked_name(name, what="product"),
        family=family.strip()[:40],
    )
    product.lines.set(lines)
    version.product, version.number, version.entered_at = product, 1, at
    version.save()
    codes = sorted(line.code for line in lines)
    record(
        stream=STREAM,
        action="enter-product",
        subject=product,
        sentence=f"product {product.code} entered for line {', '.join(codes)}",
        by=by,
        at=at,
        facts=_facts(version) | {"lines": codes, "strain_confirmed": confirmed},
    )
    return version


@transaction.atomic
def revise_product(
    product: Product,
    *,
    values: Mapping[str, Any],
    reason: str,
    by: Person,
    at: datetime,
    confirmed: bool = False,
    seen_version: int | None = None,
    lines: Sequence[Line] | None = None,
) -> ProductVersion:
    """Write changed figures as the next version. `seen_version`: the one the author looked at."""
    require_role(by, Role.ENGINEER, Role.KEEPER, at=at, act="Changing a product")
    if not reason.strip():
        raise Refused("no-reason", "Say why the figures change; the reason stands in the record.", field="reason")
    product = Product.objects.select_for_update().get(pk=product.pk)
    before = ProductVersion.objects.get(product=product, current=True)
    if seen_version is not None and seen_version != before.number:
        sentence = (
            f"{product.code} changed since you looked: you saw version {seen_version}, now there is version "
            f"{before.number}. Compare your figures with it, then save again."
        )
        raise Conflict("changed-since", sentence)
    version = checked_version(values, confirmed=confirmed)
    ProductVersion.objects.filter(pk=before.pk).update(current=False)
    version.product, version.number, version.entered_at = product, before.number + 1, at
    version.save()
    if lines:
        product.lines.set(lines)
    record(
        stream=STREAM,
        action="revise-product",
        subject=product,
        sentence=f"product {product.code} has version {version.number}",
        by=by,
        at=at,
        facts=_facts(version) | {"before": before.number, "strain_confirmed": confirmed},
        reason=reason,
    )
    return version

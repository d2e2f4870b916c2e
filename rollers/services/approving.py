"""Signing recipe versions: the author, a second Size person, the supervisor, QA."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.models import Signature
from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers import rules
from rollers.models import Calculation, RecipeProduct, RecipeVersion
from rollers.queries import label_of
from rollers.readiness import present_limits
from rollers.rooms import room_kinds
from rollers.services.recipes import case_of, locked, refuse_place, stream_of
from training.access import require_skill
from training.services.telling import tell_job_done

Reasons = dict[str, dict[str, str]]
OPEN_VERDICTS = ("caution", "cannot tell")


def open_checks(version: RecipeVersion) -> dict[str, dict[str, str]]:
    """Cautions and cannot-tells of a version: product code, check id, sentence."""
    found: dict[str, dict[str, str]] = {}
    for row in version.products.all():
        rows = _calculation(row).result["checks"]
        found[row.product.code] = {c["id"]: c["sentence"] for c in rows if c["verdict"] in OPEN_VERDICTS}
    return {code: checks for code, checks in found.items() if checks}


def _calculation(row: RecipeProduct) -> Calculation:
    if row.calculation is None:
        raise Refused("not-computed", f"{row.version} was not computed for {row.product}. Draft it again.")
    return row.calculation


def content_of(version: RecipeVersion) -> dict[str, Any]:
    """Exactly what a signature on a recipe version stands for."""
    return {
        "position": version.recipe.position.code,
        "title": version.recipe.title,
        "version": version.number,
        "stock": version.stock.code if version.stock else None,
        "bands": [[b.end, str(b.inner_mm), str(b.outer_mm), b.wraps] for b in version.bands.all()],
        "products": {
            row.product.code: [row.calculation_id, _calculation(row).verdict] for row in version.products.all()
        },
        "reasons": version.reasons,
        "note": version.note,
    }


def _refuse_refused(version: RecipeVersion) -> None:
    failed = [
        f"{row.product}: {check['sentence']}"
        for row in version.products.all()
        for check in _calculation(row).result["checks"]
        if check["verdict"] == "refused"
    ]
    if failed and version.stock:
        sentence = (
            f"{label_of(version)} breaks a hard limit and cannot be approved: {failed[0]} "
            "A person with Size can change wraps, tape or bands, or declare the roller bare."
        )
        raise Refused("hard-limit", sentence, details=failed)


def _refuse_open(version: RecipeVersion, reasons: Mapping[str, Mapping[str, str]], kind: str) -> Reasons:
    kept: Reasons = {}
    for row in version.products.all():
        code = row.product.code
        for check in _calculation(row).result["checks"]:
            if check["verdict"] not in OPEN_VERDICTS or not version.stock:
                continue
            if check["verdict"] == "cannot tell" and kind in rules.STRICT:
                sentence = f"{code}: {check['sentence']} In a {kind} room this must be measured first, not accepted."
                raise Refused("measure-first", sentence)
            reason = reasons.get(code, {}).get(check["id"], "").strip()
            if len(reason) < 10:
                sentence = f"{code}, {check['title']}: write why this caution is accepted (at least 10 characters)."
                raise Refused("no-reason", sentence, field=f"reason-{code}-{check['id']}", details=[check["sentence"]])
            kept.setdefault(code, {})[check["id"]] = reason
    return kept


@transaction.atomic
def check_recipe(
    version: RecipeVersion, *, reasons: Mapping[str, Mapping[str, str]], confirmation: Confirmation
) -> RecipeVersion:
    """The author signs the computed draft: nothing is refused, and every caution has its reason."""
    by, at = confirmation.person, confirmation.at
    version = locked(version)
    position = version.recipe.position
    kind = room_kinds({position.room_id}, at)[position.room_id]
    require_skill(by, "size", kind, at, f"Signing a recipe for {position}")
    if version.state != RecipeVersion.State.DRAFT:
        raise Conflict("not-a-draft", f"This version is {version.state} already. Reload the page to see by whom.")
    if version.author_id != by.pk:
        sentence = f"{version.author.name} drafted this version and signs it as author. You can draft your own."
        raise Refused("not-the-author", sentence)
    _refuse_outdated(version)
    _refuse_refused(version)
    version.reasons = _refuse_open(version, reasons, kind)
    version.state = RecipeVersion.State.CHECKED
    version.save(update_fields=["reasons", "state"])
    signature = sign(confirmation, meaning=rules.AUTHORED, subject=version, content=content_of(version))
    record(
        stream=stream_of(position),
        action="check-recipe",
        subject=version,
        sentence=f"{by.name} signed {label_of(version)} for {position} as author",
        by=by,
        at=at,
        facts={"signature": signature.digest, "reasons": version.reasons},
    )
    tell_job_done(by, "study", "", at, f"{label_of(version)} for {position}", key=f"recipe-version:{version.pk}")
    return version


def _refuse_outdated(version: RecipeVersion) -> None:
    for row in version.products.all():
        calculation = _calculation(row)
        if not calculation.product_version.current:
            sentence = f"The data of {row.product} changed since this was computed. Draft the recipe again."
            raise Refused("needs-re-check", sentence)
        if calculation.limits_version != present_limits().version:
            sentence = f"The limits changed since {label_of(version)} was computed. Draft it again to judge it by them."
            raise Refused("needs-re-check", sentence)
        fresh = case_of(calculation.product_version, version.step, stock=version.stock, bands=version.bands.all())
        if fresh != calculation.case:
            sentence = f"Roller or position {version.recipe.position} changed since this was computed. Draft it again."
            raise Refused("needs-re-check", sentence)


def given_signatures(version: RecipeVersion) -> dict[str, Signature]:
    """The signatures on a version, by meaning."""
    rows = Signature.objects.filter(subject_type="recipeversion", subject_id=str(version.pk)).order_by("pk")
    return {row.meaning: row for row in rows}


def still_needed(version: RecipeVersion, at: datetime) -> list[rules.Needed]:
    """What is missing before the version comes into force."""
    position = version.recipe.position
    return rules.signatures_needed(
        room_kind=room_kinds({position.room_id}, at)[position.room_id],
        cautions=bool(version.reasons),
        bare=version.stock is None,
        given=frozenset(given_signatures(version)),
    )


def _may_sign(meaning: str, version: RecipeVersion, by: Person, at: datetime, kind: str) -> None:
    position = version.recipe.position
    if by.pk == version.author_id:
        sentence = (
            f"{by.name} is the author of this version and cannot approve it. "
            + ", ".join(f"{needed.meaning}: {needed.who}" for needed in still_needed(version, at))
            + "."
        )
        raise Refused("own-recipe", sentence)
    if meaning == rules.SECOND:
        require_skill(by, "size", kind, at, f"The second signature on a recipe for {position}")
    elif meaning == rules.APPROVED:
        require_role(by, Role.SUPERVISOR, at=at, act=f"Approving a recipe for {position}")
    else:
        require_role(by, Role.QA, at=at, act=f"QA approval of a recipe for {position}")
    if by.pk in {row.person_id for row in given_signatures(version).values()}:
        raise Refused("signed-already", f"{by.name} signed this version already. Another person has to sign now.")


@transaction.atomic
def approve_recipe(version: RecipeVersion, *, meaning: str, confirmation: Confirmation) -> RecipeVersion:
    """One more signature on a checked version; with the last one it comes into force and ends the one before."""
    by, at = confirmation.person, confirmation.at
    version = locked(version)
    position = version.recipe.position
    kind = room_kinds({position.room_id}, at)[position.room_id]
    if version.state != RecipeVersion.State.CHECKED:
        said = "its author has to sign it first" if version.state == RecipeVersion.State.DRAFT else "look again"
        raise Conflict("not-checked", f"This version is {version.state}: {said}.")
    needed = {row.meaning for row in still_needed(version, at)}
    _may_sign(meaning, version, by, at, kind)
    if meaning not in needed:
        raise Conflict("not-needed", f"The signature “{meaning}” is there already or not needed. Reload the page.")
    _refuse_outdated(version)
    refuse_place(version.step, version.stock, kind, [row.product for row in version.products.all()], at)
    _refuse_refused(version)
    _refuse_open(version, version.reasons, kind)
    signature = sign(confirmation, meaning=meaning, subject=version, content=content_of(version))
    facts: dict[str, Any] = {"signature": signature.digest, "meaning": meaning}
    sentence = f"{by.name} signed {label_of(version)} for {position}: {meaning}"
    if not still_needed(version, at):
        facts["superseded"] = _bring_into_force(version, at)
        sentence += "; it is in force now"
    record(
        stream=stream_of(position),
        action="approve-recipe",
        subject=version,
        sentence=sentence,
        by=by,
        at=at,
        facts=facts,
    )
    return version


def _bring_into_force(version: RecipeVersion, at: datetime) -> list[str]:
    """End what was in force for the same position and products, then hold for each of them."""
    mine = list(version.products.all())
    rows = RecipeProduct.objects.select_for_update(of=("self",)).filter(
        position=version.recipe.position, product__in=[row.product_id for row in mine], in_force=True
    )
    ended = {row.version for row in rows.select_related("version__recipe")}
    rows.update(in_force=False)
    for old in ended:
        if not old.products.filter(in_force=True).exists():
            RecipeVersion.objects.filter(pk=old.pk).update(
                state=RecipeVersion.State.SUPERSEDED, ended_at=at, end_reason=f"superseded by {version}"
            )
    RecipeProduct.objects.filter(version=version).update(in_force=True)
    version.state, version.in_force_at = RecipeVersion.State.IN_FORCE, at
    version.save(update_fields=["state", "in_force_at"])
    return sorted(str(old) for old in ended)

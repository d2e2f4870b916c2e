"""The figures of the skills: one person proposes, another signs. Certificates of before keep the rule they had."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from training.models import Skill, SkillProposal, WorkKind
from training.rules_due import DueRule

STREAM = "training"
PROPOSERS = (Role.TRAINER, Role.ENGINEER)
SIGNERS = (Role.QA,)
# Field, least, most.
NUMBERS = {
    "valid_months": (1, 120),
    "window_days": (0, 180),
    "late_days": (0, 365),
    "currency_count": (0, 50),
    "currency_months": (0, 36),
    "joint_marking_months": (0, 36),
    "course_minutes": (0, 4800),
    "supervised_jobs": (0, 50),
    "test_questions": (0, 60),
    "test_pass_percent": (0, 100),
    "practicals": (0, 10),
}
FIGURES = ("due_rule", *NUMBERS, "currency_kind", "test_safety_all_right", "practical")


def figures_of(skill: Skill) -> dict[str, Any]:
    """The figures that the plant may change, by name."""
    return {name: getattr(skill, name) for name in FIGURES}


@transaction.atomic
def propose_figures(skill: Skill, figures: dict[str, Any], *, reason: str, by: Person, at: datetime) -> SkillProposal:
    """Ask for other figures. Nothing changes until another person signs."""
    require_role(by, *PROPOSERS, at=at, act="Proposing other figures for a skill")
    skill = Skill.objects.select_for_update().get(pk=skill.pk)
    before = figures_of(skill)
    after = before | {name: value for name, value in figures.items() if name in FIGURES}
    _refuse_figures(after)
    if after == before:
        raise Refused("nothing-new", f"These are the figures of {skill.name} already. Change one, or leave it.")
    if len(reason.strip()) < 5 or len(reason.strip()) > 300:
        raise Refused("no-reason", "Say why, in 5 to 300 characters; who signs reads it.", field="reason")
    if SkillProposal.objects.filter(skill=skill, answer="").exists():
        sentence = f"Other figures for {skill.name} wait for a signature already. QA signs or refuses those first."
        raise Refused("waits", sentence)
    made = SkillProposal.objects.create(
        skill=skill,
        before=before,
        after=after,
        on_version=skill.rule_version,
        reason=reason.strip(),
        proposed_by=by,
        proposed_at=at,
    )
    changes = changed(made)
    record(
        stream=STREAM,
        action="propose-figures",
        subject=skill,
        sentence=f"other figures proposed for {skill.name}: {words(changes)}",
        by=by,
        at=at,
        facts={"proposal": made.pk, "changes": changes},
        reason=made.reason,
    )
    return made


def changed(proposal: SkillProposal) -> dict[str, list[Any]]:
    """What changes: name, old value, new value."""
    before, after = proposal.before, proposal.after
    return {name: [before[name], after[name]] for name in FIGURES if before[name] != after[name]}


def words(changes: dict[str, list[Any]]) -> str:
    """What changes, as it is read."""
    return ", ".join(f"{name.replace('_', ' ')} {old} → {new}" for name, (old, new) in changes.items())


def _refuse_figures(figures: dict[str, Any]) -> None:
    for name, (least, most) in NUMBERS.items():
        if not isinstance(figures[name], int) or not least <= figures[name] <= most:
            label = name.replace("_", " ")
            raise Refused("out-of-range", f"{label}: enter a whole number from {least} to {most}.", field=name)
    if figures["due_rule"] not in set(DueRule):
        raise Refused("no-rule", f"Choose one of the rules: {', '.join(DueRule)}.", field="due_rule")
    if figures["currency_kind"] not in {"", *WorkKind.values}:
        raise Refused("no-kind", "Choose what is counted as practice.", field="currency_kind")
    if figures["currency_count"] and not (figures["currency_months"] and figures["currency_kind"]):
        sentence = "Practice that is counted needs a span in months and a kind of work; or set the count to 0."
        raise Refused("half-practice", sentence, field="currency_months")
    if figures["test_questions"] and not figures["test_pass_percent"]:
        sentence = "A test needs a share to pass; or set its questions to 0."
        raise Refused("half-test", sentence, field="test_pass_percent")


@transaction.atomic
def sign_figures(proposal: SkillProposal, *, confirmation: Confirmation) -> Skill:
    """Put the proposed figures in force, under the next version of the rule."""
    by, at = confirmation.person, confirmation.at
    proposal, skill = _open(proposal, by, at, "Signing other figures for a skill")
    if skill.rule_version != proposal.on_version:
        raise Conflict("changed", f"The figures of {skill.name} have changed since this was proposed. Propose anew.")
    for name, value in proposal.after.items():
        setattr(skill, name, value)
    skill.rule_version += 1
    skill.save()
    _answer(proposal, SkillProposal.Answer.SIGNED, by, at, "")
    content = {"skill": skill.code, "version": skill.rule_version, "figures": proposal.after}
    signature = sign(confirmation, meaning="figures of a skill approved", subject=proposal, content=content)
    record(
        stream=STREAM,
        action="sign-figures",
        subject=skill,
        sentence=f"figures of {skill.name}, version {skill.rule_version}, in force: {words(changed(proposal))}",
        by=by,
        at=at,
        facts=content | {"changes": changed(proposal), "signature": signature.digest},
        reason=proposal.reason,
    )
    return skill


@transaction.atomic
def refuse_figures(proposal: SkillProposal, *, reason: str, by: Person, at: datetime) -> SkillProposal:
    """Leave the figures as they are, and say why. Who proposed them may take them back."""
    own = proposal.proposed_by_id == by.pk
    proposal, skill = _open(proposal, by, at, "Refusing other figures for a skill", own=own)
    if len(reason.strip()) < 5 or len(reason.strip()) > 300:
        raise Refused("no-reason", "Say why, in 5 to 300 characters; who proposed it reads it.", field="reason")
    # Taken back by oneself needs no second person; the row then names nobody who answered.
    _answer(proposal, SkillProposal.Answer.REFUSED, None if own else by, at, reason.strip())
    record(
        stream=STREAM,
        action="take-figures-back" if own else "refuse-figures",
        subject=skill,
        sentence=f"figures proposed for {skill.name} {'taken back' if own else 'refused'} by {by.name}",
        by=by,
        at=at,
        facts={"proposal": proposal.pk, "changes": changed(proposal)},
        reason=reason.strip(),
    )
    return proposal


def _open(
    proposal: SkillProposal, by: Person, at: datetime, act: str, *, own: bool = False
) -> tuple[SkillProposal, Skill]:
    require_role(by, *(PROPOSERS if own else SIGNERS), at=at, act=act)
    skill = Skill.objects.select_for_update().get(pk=proposal.skill_id)
    proposal = SkillProposal.objects.select_related("proposed_by").get(pk=proposal.pk)
    if proposal.answer:
        raise Refused("answered", f"This proposal is {proposal.get_answer_display()} already. Look at the page again.")
    if proposal.proposed_by_id == by.pk and not own:
        raise Refused("own-proposal", "Nobody signs what he or she proposed. Another person of QA signs it.")
    return proposal, skill


def _answer(proposal: SkillProposal, answer: str, by: Person | None, at: datetime, reason: str) -> None:
    proposal.answer, proposal.answered_by, proposal.answered_at, proposal.answer_reason = answer, by, at, reason
    proposal.save(update_fields=["answer", "answered_by", "answered_at", "answer_reason"])

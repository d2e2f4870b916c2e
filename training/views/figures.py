"""The skills with their figures: what each asks for and when it falls due; proposing and signing others."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.errors import Refused
from plant.people.access import require_insider, require_role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from training import forms_dues as forms
from training.access import proposal_by_id, skill_by_code
from training.models import Skill, SkillProposal
from training.services.figures import (
    PROPOSERS,
    SIGNERS,
    changed,
    propose_figures,
    refuse_figures,
    sign_figures,
    words,
)


@require_safe
def skills(request: PersonRequest) -> HttpResponse:
    """All skills, and what waits for a signature."""
    require_insider(request.user, at=request.at)
    waiting = SkillProposal.objects.filter(answer="").select_related("skill", "proposed_by")
    context = {
        "skills": list(Skill.objects.prefetch_related("needs")),
        "waiting": [(each, words(changed(each))) for each in waiting],
        "may_propose": bool(request.roles & set(PROPOSERS)),
    }
    return render(request, "training/skills.html", context)


@require_http_methods(["GET", "POST"])
def propose(request: PersonRequest, code: str) -> HttpResponse:
    """Other figures for a skill."""
    require_role(request.user, *PROPOSERS, at=request.at, act="Proposing other figures for a skill")
    skill = skill_by_code(code)
    # A copy: a ModelForm writes what was typed into its instance, and nothing changes before QA signs.
    form, status = forms.Figures(request.POST or None, instance=Skill.objects.get(pk=skill.pk)), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = dict(form.cleaned_data)
            why = given.pop("reason")
            try:
                propose_figures(skill, given, reason=why, by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Proposed for {skill.name}. Nothing changes before QA signs.")
                return redirect("training:skills")
    return render(request, "training/propose.html", {"skill": skill, "form": form}, status=status)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def proposal(request: PersonRequest, pk: int) -> HttpResponse:
    """A proposal: what changes, and why; QA signs or refuses."""
    require_insider(request.user, at=request.at)
    found = proposal_by_id(pk)
    form, status = forms.SignFigures(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                secret = form.cleaned_data["secret"]
                confirmation = confirm_secret(request.user, secret, at=request.at, time_zone=request.zone.key)
                skill = sign_figures(found, confirmation=confirmation)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{skill.name}, version {skill.rule_version}, is in force.")
                return redirect("training:skills")
    context = {
        "proposal": found,
        "changes": [(name.replace("_", " "), *pair) for name, pair in changed(found).items()],
        "form": form,
        "refusing": forms.Reason(),
        "own": found.proposed_by_id == request.user.pk,
        "may_sign": bool(request.roles & set(SIGNERS)) and found.proposed_by_id != request.user.pk,
        "my_roles": ", ".join(role_words(request.roles)),
    }
    return render(request, "training/proposal.html", context, status=status)


@require_POST
def refuse(request: PersonRequest, pk: int) -> HttpResponse:
    """Leave the figures as they are."""
    refuse_figures(proposal_by_id(pk), reason=request.POST.get("reason", ""), by=request.user, at=request.at)
    messages.success(request, "The figures stay as they are.")
    return redirect("training:skills")

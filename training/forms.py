"""Shapes of what is typed about certificates."""

from django import forms

from plant.people.forms import Day, Secret, reason
from training.models import Skill


class SkillChoice(forms.ModelChoiceField):
    """A skill with how long it lasts."""

    def label_from_instance(self, obj: Skill) -> str:
        return f"{obj.name} ({obj.valid_months} months)"


def _skill() -> SkillChoice:
    return SkillChoice(Skill.objects.all(), label="Skill", to_field_name="code", empty_label="Choose a skill")


def _evidence(help_text: str) -> forms.CharField:
    return forms.CharField(
        label="Evidence", help_text=help_text, max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )


class Issue(forms.Form):
    """A certificate to sign."""

    skill = _skill()
    valid_from = Day(label="First day")
    valid_to = Day(
        label="Last day", required=False, help_text="Left empty: the anniversary, after the months of the skill."
    )
    evidence = _evidence("Test, practical or paper it stands on, and where that is kept.")
    secret = Secret(label="Your password again", autocomplete="current-password")


class Founding(forms.Form):
    """A certificate from before the records began."""

    skill = _skill()
    number = forms.CharField(
        label="Its number", max_length=30, required=False, help_text="Left empty: the next free one."
    )
    valid_from = Day(label="First day")
    valid_to = Day(label="Last day")
    evidence = _evidence("The paper that shows it, and where that is kept.")


class Act(forms.Form):
    """Why a certificate is suspended, reinstated or withdrawn."""

    reason = reason("The person concerned and the supervisor read it.", longest=300)

"""Shapes of what is typed about dues, refreshers and the figures of skills."""

from django import forms

from plant.people.forms import Day, Secret, reason
from training.models import Skill, Trigger, WorkKind
from training.rules_due import RULE_WORDS, DueRule


class Reason(forms.Form):
    """Why."""

    reason = reason("The person concerned reads it.", longest=300)


class AskRefresher(forms.Form):
    """What happened, and which skill it calls into question."""

    skill = forms.ModelChoiceField(Skill.objects.all(), to_field_name="code", empty_label="Choose a skill")
    kind = forms.ChoiceField(label="What happened", choices=[("", "Choose"), *Trigger.Kind.choices])
    subject = forms.CharField(
        label="Where it is on record", max_length=160, required=False, help_text="Finding, line, roller or report."
    )
    reason = reason("The person concerned and the trainer read it.", longest=300)
    suspends = forms.ChoiceField(
        label="Until it is done",
        choices=[
            ("", "as the kind of event says: finding, near miss, absence and second failed check suspend"),
            ("yes", "the skill is suspended at once"),
            ("no", "the skill goes on counting"),
        ],
        required=False,
    )
    due_on = Day(
        label="To be done by", required=False, help_text="Left empty: today, or in 30 days if nothing is suspended."
    )


class AnswerRefresher(forms.Form):
    """What was done."""

    evidence = forms.CharField(
        label="What was done",
        help_text="The talk, the test or the practical, and where it is kept.",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class Figures(forms.ModelForm):
    """The figures of a skill, as they are proposed."""

    due_rule = forms.ChoiceField(
        label="Falls due by", choices=[(rule.value, f"{rule.value}: {RULE_WORDS[rule]}") for rule in DueRule]
    )
    currency_kind = forms.ChoiceField(
        label="Practice that is counted", choices=[("", "none"), *WorkKind.choices], required=False
    )
    reason = reason("Who signs reads it.", longest=300)

    class Meta:
        model = Skill
        fields = [
            "due_rule",
            "valid_months",
            "window_days",
            "late_days",
            "currency_kind",
            "currency_count",
            "currency_months",
            "joint_marking_months",
            "course_minutes",
            "supervised_jobs",
            "test_questions",
            "test_pass_percent",
            "test_safety_all_right",
            "practicals",
            "practical",
        ]
        labels = {
            "valid_months": "Lasts (months)",
            "window_days": "Renewal window before the end (days)",
            "late_days": "Late: test and practical up to (days)",
            "currency_count": "Stays current by (jobs)",
            "currency_months": "counted over (months)",
            "joint_marking_months": "Joint marking every (months, 0: none)",
            "course_minutes": "Course (minutes)",
            "supervised_jobs": "Supervised jobs",
            "test_questions": "Questions of the test (0: no test)",
            "test_pass_percent": "To pass (per cent)",
            "test_safety_all_right": "All safety questions right",
            "practicals": "Practical assessments",
            "practical": "What the practical is",
        }


class SignFigures(forms.Form):
    """The own secret, for one signature."""

    secret = Secret(label="Your password again", autocomplete="current-password")

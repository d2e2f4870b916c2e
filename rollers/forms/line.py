"""What is asked at a running line: set-points, overrides, handover, decisions about rolls, outcomes of work."""

from collections.abc import Iterable
from typing import Any

from django import forms

from rollers.control import Control
from rollers.forms.figures import WithFigures
from rollers.forms.signing import SecretForm
from rollers.models import HeldRoll
from rollers.rules_overrides import REASONS


class SetPointForm(WithFigures):
    """A new tension or speed of a run that goes on; empty means unchanged."""

    figures = {"tension": ("tension_n_per_m", "Tension now"), "speed": ("speed_m_per_min", "Speed now")}
    reason = forms.CharField(label="Why", required=False, max_length=300)
    field_order = ["tension", "tension_unit", "speed", "speed_unit", "reason"]

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        """At least one of the two."""
        cleaned = super().clean()
        if not self.errors and self.number("tension") is None and self.number("speed") is None:
            self.add_error("tension", "Type the new tension, the new speed, or both.")
        return cleaned


class TwoSignForm(SecretForm):
    """A second person signs at the same desk."""

    other_staff_no = forms.CharField(
        label="Staff number of the second person",
        max_length=20,
        error_messages={"required": "Two persons sign: type the staff number of the other."},
    )
    other_secret = forms.CharField(
        label="Password of the second person",
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        strip=False,
        error_messages={"required": "The second person types the own password."},
    )


class OverrideForm(TwoSignForm):
    """Letting one rule pass for a short time."""

    code = forms.CharField(widget=forms.HiddenInput)
    position = forms.CharField(widget=forms.HiddenInput, required=False)
    reason_code = forms.ChoiceField(
        label="Kind of reason",
        choices=list(REASONS.items()),
        error_messages={"required": "Choose a kind of reason."},
    )
    reason = forms.CharField(
        label="Reason",
        help_text="At least 20 characters. It is printed with the run.",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Write the reason; it is printed with the run."},
    )
    ends_at = forms.DateTimeField(
        label="Ends, plant time",
        help_text="Never after this shift, and never after 12 hours.",
        error_messages={"required": "Say when it ends.", "invalid": "Type date and time, like 2026-03-24 14:00."},
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    field_order = ["code", "position", "reason_code", "reason", "ends_at", "secret", "other_staff_no", "other_secret"]


class HandoverForm(TwoSignForm):
    """Who takes the line over signs beside who gives it."""

    note = forms.CharField(label="What else to know", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    field_order = ["note", "secret", "other_staff_no", "other_secret"]


class RollForm(SecretForm):
    """QA decides about one held roll."""

    decision = forms.ChoiceField(
        label="Decision",
        choices=[
            (HeldRoll.Decision.RELEASED, "Release this roll"),
            (HeldRoll.Decision.REJECTED, "Reject this roll"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose: release the roll, or reject it."},
    )
    reason = forms.CharField(
        label="How you know",
        help_text="What was looked at, and with what. A metal detector does not see plain tape.",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say how you know: what was looked at, and with what."},
    )
    field_order = ["decision", "reason", "secret"]


class CloseHoldForm(SecretForm):
    """QA closes a hold."""

    reason = forms.CharField(
        label="Why the hold may end",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say where the piece is, or why it is not in product."},
    )
    field_order = ["reason", "secret"]


class OutcomeForm(forms.Form):
    """What came of a task or a deviation."""

    outcome = forms.CharField(
        label="What came of it",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say what came of it, in a few words."},
    )


class TieForm(forms.Form):
    """Whose work a finding came of."""

    person = forms.CharField(
        label="Staff number of the person",
        max_length=20,
        error_messages={"required": "Type the staff number of the person whose work it was."},
    )
    skill = forms.ChoiceField(label="The work", choices=[("apply", "Apply"), ("check", "Check"), ("size", "Size")])
    reason = forms.CharField(
        label="What shows that it came of this person's work",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say what shows it; the person concerned and the trainer read it."},
    )


class ControlsForm(TwoSignForm):
    """Figures of tape control, one input for each."""

    reason = forms.CharField(
        label="Why the settings change",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why the settings change."},
    )

    def __init__(self, *args: Any, controls: Iterable[Control], now: dict[str, float], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.now = now
        self.keys = []
        for one in controls:
            self.keys.append(one.key)
            self.fields[one.key] = forms.FloatField(
                label=one.sentence,
                initial=f"{now[one.key]:g}",
                widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 6}),
                error_messages={
                    "required": f"{one.sentence}: type a figure.",
                    "invalid": f"{one.sentence}: this is no figure. Type a number like {one.default:g}.",
                },
            )

    @property
    def changes(self) -> dict[str, float]:
        """What differs from now."""
        return {key: self.cleaned_data[key] for key in self.keys if self.cleaned_data[key] != self.now[key]}

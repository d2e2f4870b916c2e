"""Shapes of what is tapped on the shop floor: few taps, everything else optional."""

from itertools import pairwise
from typing import Any
from uuid import uuid4

from django import forms

from plant.floor.models import PathStep, ProductVersion
from plant.web.forms import FigureForm
from rollers.causes.models import WalkLook
from rollers.causes.models.sighting import Direction, Grade, Lane

Spans = list[tuple[str, str]]


def spans_of(steps: list[PathStep]) -> Spans:
    """Every span of a path as (roller it enters, words)."""
    codes = [step.position.code for step in steps]
    first = [(codes[0], f"into {codes[0]}")] if codes else []
    return first + [(here, f"{before} to {here}") for before, here in pairwise(codes)]


class KeyField(forms.UUIDField):
    """The mark that makes a report sent twice one report."""

    widget = forms.HiddenInput

    def __init__(self) -> None:
        super().__init__(
            initial=uuid4, error_messages={"required": "Open this page again.", "invalid": "Open this page again."}
        )


class SightingForm(FigureForm):
    """Grade, span, lane and direction are tapped; the rest is there for who has the time."""

    figures = {
        "from_operator_mm": "From the operator edge of the web",
        "tension_n_per_m": "Tension",
        "speed_m_per_min": "Speed",
    }
    helps = {
        "tension_n_per_m": "Empty: as the run is set",
        "speed_m_per_min": "Empty: as the run is set",
        "from_operator_mm": "Only where it helps to find it again",
    }
    key = KeyField()
    grade = forms.TypedChoiceField(
        label="What does the web show?",
        choices=[(str(grade.value), grade.label) for grade in Grade],
        coerce=int,
        error_messages={"required": "Tap what the web shows, or “Looked, none”."},
    )
    before = forms.ChoiceField(label="Between which rollers?", required=False)
    lane = forms.ChoiceField(label="Where across the web?", choices=[("", ""), *Lane.choices], required=False)
    direction = forms.ChoiceField(label="How does it lie?", choices=[("", ""), *Direction.choices], required=False)
    roll = forms.CharField(label="Roll", max_length=40, required=False)
    note = forms.CharField(label="Note", max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}))
    photo = forms.FileField(
        label="Photograph",
        required=False,
        help_text="From a fixed window, by mirror or from outside the guard: never lean in.",
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )

    def __init__(self, *args: Any, spans: Spans, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["before"].choices = [("", ""), *spans]  # type: ignore[attr-defined]

    def is_seen(self) -> bool:
        """On the shop floor a converted figure is kept as typed without a second press."""
        return True


class StartWalkForm(forms.Form):
    """Where it was seen, and with which product."""

    key = KeyField()
    starts_from = forms.ChoiceField(
        label="At which roller do you see it?",
        error_messages={"required": "Tap the roller where you see it."},
    )
    product = forms.ModelChoiceField(
        label="Product that runs",
        queryset=ProductVersion.objects.none(),
        empty_label=None,
        error_messages={"required": "Choose the product that runs."},
    )

    def __init__(self, *args: Any, codes: list[str], products: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["starts_from"].choices = [(code, code) for code in codes]  # type: ignore[attr-defined]
        self.fields["product"].queryset = products  # type: ignore[attr-defined]


class LookForm(forms.Form):
    """One tap per roller."""

    key = KeyField()
    position = forms.CharField(widget=forms.HiddenInput)
    seen = forms.ChoiceField(choices=WalkLook.Seen.choices, error_messages={"required": "Tap clean, trough or crease."})


class AnswersForm(forms.Form):
    """Asked once, of the roller where it begins."""

    key = KeyField()
    moves_with_roll = forms.ChoiceField(
        label="Does it move across when the parent roll is moved across?",
        choices=[("", "not tried"), ("no", "no"), ("yes", "yes")],
        required=False,
    )
    changes_with_tension = forms.ChoiceField(
        label="Does it change with 10 % more or less tension?",
        choices=[("", "not tried"), ("no", "no"), ("yes", "yes")],
        required=False,
    )
    changes_with_speed = forms.ChoiceField(
        label="Does it change with speed?",
        choices=[("", "not tried"), ("no", "no"), ("yes", "yes")],
        required=False,
    )

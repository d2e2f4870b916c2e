"""Shapes of what is typed at the desk about causes, decisions, trials and studies."""

from typing import Any

from django import forms

from calcs.units import known_units
from plant.floor.models import Product, ProductVersion
from plant.web.forms import FigureForm, moment_field
from plant.web.quantities import unit_sign
from rollers.causes.causerows import CauseRow
from rollers.causes.models import Order, Remark, Study
from rollers.models import Decision, Gauge, RecipeVersion


class CauseForm(forms.Form):
    """A value with its unit and gauge, or the reason why there is none."""

    value = forms.CharField(
        label="Measured",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 7}),
    )
    unit = forms.ChoiceField(label="Unit", required=False)
    gauge = forms.ModelChoiceField(
        label="Gauge", queryset=Gauge.objects.filter(in_use=True), required=False, empty_label="no gauge named"
    )
    reason = forms.CharField(label="or why it was not checked", max_length=300, required=False)

    def __init__(self, *args: Any, row: CauseRow, **kwargs: Any):
        kwargs["prefix"] = row.code
        super().__init__(*args, **kwargs)
        self.row = row
        units = known_units(row.quantity) if row.quantity else ("K", "°C", "°F")
        chosen = self.fields["unit"]
        chosen.choices = [(unit, unit_sign(unit) or "ratio") for unit in units]  # type: ignore[attr-defined]
        chosen.initial = row.unit

    def clean(self) -> dict[str, Any]:
        """One of the two, not both."""
        cleaned = super().clean() or {}
        value, reason = cleaned.get("value", "").strip(), cleaned.get("reason", "").strip()
        if bool(value) == bool(reason):
            sentence = f"{self.row.title}: type what was measured, or why it was not checked."
            self.add_error("value", sentence)
        return cleaned


class OrderForm(forms.Form):
    """What maintenance is asked for."""

    work = forms.ChoiceField(label="Order from maintenance", choices=Order.Work.choices)
    note = forms.CharField(label="What to know", max_length=200, required=False)


class OutcomeForm(forms.Form):
    """What came of it."""

    outcome = forms.CharField(
        label="What was done and measured",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say what was done and measured."},
    )


class DecisionForm(forms.Form):
    """Tape is one of four answers."""

    answer = forms.ChoiceField(
        label="Decision",
        choices=Decision.Answer.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the four."},
    )
    ends = forms.ChoiceField(
        label="If tape: at which ends",
        choices=[("both", "both ends"), ("operator", "operator end only"), ("drive", "drive end only")],
        required=False,
        help_text="One end only for diagonal wrinkles at that end; the web steers toward the tape.",
    )
    products = forms.ModelMultipleChoiceField(
        label="For which products",
        queryset=Product.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one product."},
    )
    fixable_soon = forms.BooleanField(label="A failed cause can be fixed soon", required=False)
    emergency = forms.BooleanField(
        label="Emergency: walk and cause sheet follow within a day, or the tape comes off", required=False
    )
    reason = forms.CharField(
        label="Reason",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Give the reason in a sentence; a no needs one as well."},
    )

    def __init__(self, *args: Any, products: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["products"].queryset = products  # type: ignore[attr-defined]


class RemarkForm(forms.Form):
    """A proposal or a comment; it decides nothing."""

    kind = forms.ChoiceField(label="As", choices=Remark.Kind.choices)
    text = forms.CharField(
        label="What you propose or want to say",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Write what you propose, in a sentence."},
    )


class WhatIfForm(FigureForm):
    """A product and set-points that were never run here."""

    figures = {"tension_n_per_m": "Tension", "speed_m_per_min": "Speed"}
    helps = {"tension_n_per_m": "Empty: its set-point", "speed_m_per_min": "Empty: its set-point"}
    product = forms.ModelChoiceField(label="Product", queryset=ProductVersion.objects.none(), empty_label=None)

    def __init__(self, *args: Any, products: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["product"].queryset = products  # type: ignore[attr-defined]
        self.order_fields(["product"])

    def is_seen(self) -> bool:
        """Nothing is saved here."""
        return True


class TrialForm(forms.Form):
    """Which draft is tried, and for how many rolls."""

    version = forms.ModelChoiceField(
        label="Draft that is tried",
        queryset=RecipeVersion.objects.none(),
        empty_label=None,
        error_messages={"required": "Draft the tape on the sizing page first."},
    )
    rolls = forms.IntegerField(label="Rolls at the most", min_value=1, max_value=3, initial=3)

    def __init__(self, *args: Any, drafts: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["version"].queryset = drafts  # type: ignore[attr-defined]


class StudyForm(forms.Form):
    """What is compared between which moments; fixed before anybody looks."""

    measure = forms.ChoiceField(label="What is counted", choices=Study.Measure.choices)
    product = forms.ModelChoiceField(label="Product", queryset=Product.objects.none(), empty_label=None)
    what = forms.CharField(
        label="What was changed between the windows",
        max_length=200,
        help_text="For example: T1, four wraps, both ends",
        error_messages={"required": "Say what was changed between the two windows."},
    )
    before_from = moment_field("Before: from")
    before_to = moment_field("Before: until")
    after_from = moment_field("After: from")
    after_to = moment_field("After: until")
    co_changes = forms.CharField(
        label="What else changed",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="A new film batch, another crew, other tension; changes on record are found by themselves.",
    )
    saved_per_event = forms.FloatField(label="What one event, or one kg of waste, costs", required=False, min_value=0)
    cost = forms.FloatField(label="What tape, work and stops cost over the window after", required=False, min_value=0)
    currency = forms.CharField(label="Currency", max_length=3, initial="EUR", required=False)

    def __init__(self, *args: Any, products: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["product"].queryset = products  # type: ignore[attr-defined]

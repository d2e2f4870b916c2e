"""The sizing page: what tape, where, for which products, and what if the line ran otherwise."""

from collections.abc import Iterable
from typing import Any

from django import forms

from calcs.units import known_units
from plant.floor.models import PathStep, ProductVersion
from rollers.forms.figures import WithFigures
from rollers.models import TapeStock

ENDS = (("both", "both ends"), ("operator", "operator end only"), ("drive", "drive end only"))
WHAT_IF = (("tension", "Tension"), ("speed", "Speed"), ("modulus", "MD modulus"))


def _what_if(label: str) -> forms.IntegerField:
    wrong = f"{label}: type a whole number of percent from -60 to +60."
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=-60,
        max_value=60,
        widget=forms.NumberInput(attrs={"type": "range", "min": -60, "max": 60, "step": 5}),
        error_messages={"invalid": wrong, "min_value": wrong, "max_value": wrong},
    )


class SizingForm(WithFigures):
    """Everything the page asks. How bad a wrinkle is, is not asked: the line strain decides what a web can take."""

    figures = {
        "inner": ("inner_mm", "Inner edge from centre"),
        "outer": ("outer_mm", "Outer edge from centre"),
    }
    needed = frozenset({"inner", "outer"})
    step = forms.IntegerField(label="Path", error_messages={"required": "Choose the path that passes this roller."})
    products = forms.MultipleChoiceField(
        label="Products",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Choose at least one product to size for.",
            "invalid_choice": "%(value)s is not permitted on this line; choose products from the list.",
        },
    )
    stock = forms.ChoiceField(
        label="Tape",
        error_messages={"required": "Choose a tape.", "invalid_choice": "%(value)s is no tape stock; choose one."},
    )
    ends = forms.ChoiceField(label="Taped", choices=ENDS, initial="both")
    wraps = forms.IntegerField(
        label="Wraps",
        required=False,
        min_value=0,
        max_value=100,
        help_text="Empty: as suggested; 0: bare.",
        error_messages={
            "invalid": "Wraps: type a whole number, or leave it empty for the suggestion.",
            "min_value": "Wraps: 0 is bare, less there is not.",
            "max_value": "Wraps: at most 100 can be computed; far fewer are allowed.",
        },
    )
    tension_change = _what_if("Tension")
    speed_change = _what_if("Speed")
    modulus_change = _what_if("MD modulus")
    field_order = ["step", "products", "stock", "ends", "inner", "inner_unit", "outer", "outer_unit", "wraps"]

    def __init__(
        self,
        *args: Any,
        steps: Iterable[PathStep],
        versions: Iterable[ProductVersion],
        stocks: Iterable[TapeStock],
        **kwargs: Any,
    ):
        super().__init__(*args, **kwargs)
        self.fields["step"].widget = forms.Select(choices=[(step.pk, step.path.name) for step in steps])
        self.fields["products"].choices = [  # type: ignore[attr-defined]
            (v.product.code, f"{v.product.code} {v.product.name}".strip()) for v in versions
        ]
        self.fields["stock"].choices = [  # type: ignore[attr-defined]
            (s.code, f"{s.code} {s.name}, {s.thickness_mm:g} mm") for s in stocks
        ]
        for name in ("inner", "outer"):
            self.fields[f"{name}_unit"].choices = [(u, u) for u in known_units("length") if u in ("mm", "in", "cm")]  # type: ignore[attr-defined]
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        """Bands need an order; everything else is judged by calcs."""
        cleaned = super().clean()
        inner, outer = self.number("inner"), self.number("outer")
        if inner is not None and outer is not None and outer <= inner:
            self.add_error("outer", "The outer edge lies further from the roller centre than the inner edge.")
        return cleaned


class DraftForm(forms.Form):
    """What a draft is called."""

    title = forms.CharField(
        label="Title of the recipe",
        max_length=120,
        error_messages={"required": "Give the recipe a title, for example the products it serves."},
        help_text="A title that is there already at this position gets its next version.",
    )
    note = forms.CharField(label="Note", widget=forms.Textarea(attrs={"rows": 2}), required=False)

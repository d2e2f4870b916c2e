"""Asking whether a line may run a product, and planning that run."""

from collections.abc import Iterable
from typing import Any

from django import forms

from plant.floor.models import ProductVersion, WebPath
from rollers.forms.figures import WithFigures


class AskForm(WithFigures):
    """Product, path and set-points. An empty set-point means the product's own."""

    figures = {"tension": ("tension_n_per_m", "Tension"), "speed": ("speed_m_per_min", "Speed")}
    product = forms.CharField(
        label="Product", max_length=20, error_messages={"required": "Choose the product this line should run."}
    )
    path = forms.IntegerField(
        label="Path",
        error_messages={
            "required": "Choose the path the web takes on this line.",
            "invalid": "Choose the path from the list.",
        },
    )
    field_order = ["product", "path", "tension", "tension_unit", "speed", "speed_unit"]

    def __init__(self, *args: Any, versions: Iterable[ProductVersion], paths: Iterable[WebPath], **kwargs: Any):
        super().__init__(*args, **kwargs)
        products = [(v.product.code, f"{v.product.code} {v.product.name}".strip()) for v in versions]
        threads = [(path.pk, path.name) for path in paths]
        self.fields["product"].widget = forms.Select(choices=products)
        self.fields["path"].widget = forms.Select(choices=threads)
        self.order_fields(self.field_order)


class PlanForm(AskForm):
    """The same, with the planned start in plant time."""

    starts_at = forms.DateTimeField(
        label="Planned start, plant time",
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        error_messages={
            "required": "Say when the run should start.",
            "invalid": "Type the start as date and time, for example 2026-03-24 14:00.",
        },
    )

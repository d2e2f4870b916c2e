"""The figures of a product."""

from typing import Any

from django import forms

from plant.floor.forms.common import code_field, name_field, reason_field
from plant.floor.models import Line
from plant.web.forms import FigureForm, Sections, day_field


class ProductForm(FigureForm):
    """The figures of a product."""

    figures = {
        "width_min_mm": "Narrowest width",
        "width_max_mm": "Widest width",
        "thickness_um": "Thickness",
        "wander_mm": "Sideways wander",
        "modulus_md_mpa": "Modulus, machine direction",
        "modulus_cd_mpa": "Modulus, across",
        "poisson_md": "Poisson's ratio",
        "yield_strain_pct": "Strain at yield",
        "friction": "Friction on the roller",
        "roughness_um": "Roughness Rq",
        "tension_min_n_per_m": "Lowest tension",
        "tension_set_n_per_m": "Usual tension",
        "tension_max_n_per_m": "Highest tension",
        "speed_min_m_per_min": "Lowest speed",
        "speed_set_m_per_min": "Usual speed",
        "speed_max_m_per_min": "Highest speed",
        "max_contact_temp_c": "Hottest contact",
    }
    needed = frozenset(figures) - {
        "wander_mm",
        "modulus_cd_mpa",
        "poisson_md",
        "yield_strain_pct",
        "roughness_um",
        "max_contact_temp_c",
    }
    helps = {
        "modulus_md_mpa": "Secant at line strain and temperature, never the across value.",
        "wander_mm": "To each side; empty: 5 mm.",
        "friction": "0.3 is common for film, 0.4 for paper, 0.2 for PTFE (common practice, no source).",
        "roughness_um": "Of the web; empty: 0.",
        "tension_min_n_per_m": "Per width of web, as measured rather than as set.",
    }
    modulus_direction = forms.ChoiceField(
        label="Modulus measured in", choices=[("MD", "machine direction"), ("", "not known")], required=False
    )
    modulus_method = forms.CharField(label="Method", max_length=120, required=False)
    modulus_on = day_field("Measured on", required=False)
    porous = forms.BooleanField(label="Air passes through the web", required=False)
    contact_side = forms.ChoiceField(
        label="Web side that touches the product",
        choices=[("", "neither or not known"), ("A", "side A"), ("B", "side B")],
        required=False,
    )
    confirmed = forms.BooleanField(
        label="A line strain outside the usual range is meant",
        required=False,
        help_text="Tick only when the figures were checked.",
    )
    sections: Sections = (
        ("Web", ("width_min_mm", "width_max_mm", "thickness_um", "wander_mm", "porous", "contact_side")),
        (
            "Stiffness",
            (
                "modulus_md_mpa",
                "modulus_direction",
                "modulus_method",
                "modulus_on",
                "modulus_cd_mpa",
                "poisson_md",
                "yield_strain_pct",
                "confirmed",
            ),
        ),
        ("Surface", ("friction", "roughness_um", "max_contact_temp_c")),
        (
            "Running window",
            (
                "tension_min_n_per_m",
                "tension_set_n_per_m",
                "tension_max_n_per_m",
                "speed_min_m_per_min",
                "speed_set_m_per_min",
                "speed_max_m_per_min",
            ),
        ),
    )
    TEXTS = ("modulus_direction", "modulus_method", "modulus_on", "porous", "contact_side")

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["lines"] = forms.ModelMultipleChoiceField(
            Line.objects.all(),
            label="May run on",
            to_field_name="code",
            widget=forms.CheckboxSelectMultiple,
            error_messages={"required": "Choose at least one line."},
        )

    def version_values(self) -> dict[str, Any]:
        """What a product version is made of."""
        return self.values() | {name: self.cleaned_data[name] for name in self.TEXTS}


class NewProductForm(ProductForm):
    """A new product."""

    code = code_field("Product code", "BO-20", 20)
    name = name_field("Name of the product")
    family = forms.CharField(label="Web family", max_length=40, required=False, help_text="For example BOPP.")
    sections: Sections = (("Product", ("code", "name", "family", "lines")), *ProductForm.sections)


class ReviseProductForm(ProductForm):
    """Changed figures of a product; `seen_version` is the version on the page."""

    seen_version = forms.IntegerField(widget=forms.HiddenInput)
    reason = reason_field()
    sections: Sections = (*ProductForm.sections, ("Why", ("lines", "reason", "seen_version")))

"""Shapes of what the registry's pages ask for: rollers, measurements, mountings."""

from typing import Any

from django import forms

from plant.floor.forms.common import code_field, reason_field
from plant.floor.models import PathStep, Position, Room
from plant.web.forms import FigureForm, moment_field
from rollers.models import Body, Gauge, Measurement, Mounting

OUT = [
    (Body.Whereabouts.SPARE, "spare rack"),
    (Body.Whereabouts.GRINDING, "grinding"),
    (Body.Whereabouts.SCRAPPED, "scrap"),
]
LOOKED = "I looked at the incoming roller: it is bare and clean"


class BodyForm(FigureForm):
    """A new roller."""

    figures = {
        "diameter_mm": "Diameter now",
        "drawing_diameter_mm": "Diameter of the drawing",
        "face_mm": "Face length",
        "roughness_um": "Roughness Rq of the bare face",
        "runout_mm": "Runout",
    }
    needed = frozenset({"face_mm", "roughness_um"})
    serial = code_field("Serial number", "R-1001", 40)
    diameter_measured = forms.BooleanField(label="Measured, not read from the drawing", required=False)
    material = forms.CharField(label="Material of the face", max_length=60, required=False)
    drive_end_mark = forms.CharField(
        label="How the drive end is marked",
        max_length=60,
        required=False,
        help_text="For example a red ring at the drive end. Never left or right.",
    )
    sections = (
        (
            "",
            (
                "serial",
                "diameter_mm",
                "diameter_measured",
                "drawing_diameter_mm",
                "face_mm",
                "roughness_um",
                "runout_mm",
                "material",
                "drive_end_mark",
            ),
        ),
    )


class MeasureForm(FigureForm):
    """One measured value with its gauge."""

    readings = forms.CharField(
        label="Single readings",
        max_length=200,
        required=False,
        help_text="For example operator end 119.98, centre 120.00, drive end 120.01.",
    )
    measured_at = moment_field("Measured at", required=False, help_text="Empty: now. In plant time.")

    def __init__(self, *args: Any, quantity: str, **kwargs: Any):
        self.figures = {quantity: Measurement.Quantity(quantity).label.partition(",")[0].capitalize()}
        self.needed = frozenset(self.figures)
        super().__init__(*args, **kwargs)
        self.sections = (("", (quantity, "gauge", "readings", "measured_at")),)
        self.fields["gauge"] = forms.ModelChoiceField(
            Gauge.objects.filter(in_use=True),
            label="Gauge",
            to_field_name="code",
            required=False,
            empty_label="not recorded",
            help_text="Without a gauge, or past its calibration, the value is kept and flagged.",
        )


class WhenForm(forms.Form):
    """When it was done."""

    when = moment_field("Done at", required=False, help_text="Empty: now. In plant time.")


class TurnForm(WhenForm):
    """Turning a roller end for end."""


class IncomingForm(WhenForm):
    """Which roller goes in, and how round."""

    body = forms.ModelChoiceField(
        Body.objects.none(),
        label="Roller that goes in",
        to_field_name="serial",
        error_messages={"required": "Choose the roller; a new one is entered on the list of rollers first."},
    )
    orientation = forms.ChoiceField(label="Which way round", choices=Mounting.Orientation.choices)
    looked_bare = forms.BooleanField(
        label=LOOKED, required=False, help_text="Under lockout. Tape or residue comes off and is counted first."
    )
    field_order = ["body", "orientation", "looked_bare", "when"]

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        free = Body.objects.exclude(whereabouts__in=[Body.Whereabouts.MOUNTED, Body.Whereabouts.SCRAPPED])
        self.fields["body"].queryset = free  # type: ignore[attr-defined]


class SwapForm(IncomingForm):
    """One out, another in."""

    to = forms.ChoiceField(label="The roller taken out goes to", choices=OUT)
    outgoing_bare = forms.BooleanField(label="The roller taken out is bare and clean, I looked", required=False)
    field_order = ["to", "outgoing_bare", "body", "orientation", "looked_bare", "when"]


class TakeOutForm(WhenForm):
    """Out, and the place stays empty."""

    to = forms.ChoiceField(label="The roller goes to", choices=OUT)
    looked_bare = forms.BooleanField(label="It is bare and clean, I looked", required=False)
    field_order = ["to", "looked_bare", "when"]


class TableForm(FigureForm):
    """What all rollers of a table share."""

    figures = {"face_mm": "Face length of all", "roughness_um": "Roughness Rq of all"}
    needed = frozenset(figures)
    room = forms.ModelChoiceField(Room.objects.all(), label="Room", to_field_name="code")
    path = forms.CharField(
        label="Name of the web path",
        max_length=60,
        initial="straight",
        help_text="Rows go on where a path of this name ends now.",
    )
    diameter_unit = forms.ChoiceField(label="Diameters are in", choices=[("mm", "mm"), ("cm", "cm"), ("in", "in")])
    span_unit = forms.ChoiceField(label="Spans are in", choices=[("mm", "mm"), ("m", "m"), ("in", "in"), ("ft", "ft")])
    measured = forms.BooleanField(label="The diameters were measured, not read from drawings", required=False)
    sections = (("", ("room", "path", "face_mm", "roughness_um", "diameter_unit", "span_unit", "measured")),)


class RollerRow(forms.Form):
    """One roller of a table; a row without any figure is passed over."""

    position = forms.CharField(label="Position", max_length=20, required=False)
    kind = forms.ChoiceField(label="Kind", choices=Position.Kind.choices, required=False)
    serial = forms.CharField(label="Serial number", max_length=40, required=False)
    diameter = forms.CharField(label="Diameter", max_length=20, required=False)
    wrap = forms.CharField(label="Wrap, degrees", max_length=20, required=False)
    rotation = forms.ChoiceField(label="Rotation", choices=[("", ""), *PathStep.Rotation.choices], required=False)
    web_side = forms.ChoiceField(label="Web side", choices=[("", ""), ("A", "A"), ("B", "B")], required=False)
    entry_span = forms.CharField(label="Span before it", max_length=20, required=False)
    FILLED = ("serial", "diameter", "wrap", "rotation", "web_side", "entry_span")

    def is_filled(self) -> bool:
        """Whether anything was typed beyond what the table proposed."""
        return any(self.cleaned_data.get(name) for name in self.FILLED)


class GaugeForm(forms.Form):
    """A new gauge."""

    code = code_field("Gauge code", "PI-1", 30)
    name = forms.CharField(
        label="What it is", max_length=120, help_text="With its range, for example pi tape 80-400 mm."
    )


class RetireForm(forms.Form):
    """Out of use."""

    reason = reason_field()

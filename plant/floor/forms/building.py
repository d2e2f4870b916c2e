"""Plant, rooms, lines, positions and paths."""

from typing import Any
from zoneinfo import available_timezones

from django import forms

from plant.floor.forms.common import REASON, code_field, name_field, reason_field
from plant.floor.models import Line, PathStep, Plant, Position, Room, RoomKind, TensionZone
from plant.web.forms import FigureForm, day_field, moment_field


def zone_names() -> list[tuple[str, str]]:
    """Time zones by region and city."""
    names = sorted(name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "SystemV/")))
    return [("", "Choose the clock of the plant"), *((name, name.replace("_", " ")) for name in names)]


class PlantForm(forms.Form):
    """The plant and its clock."""

    code = code_field("Short code", "TH", 12)
    name = name_field("Name of the plant")
    time_zone = forms.ChoiceField(
        label="Clock of the plant",
        help_text="Shifts, certificates and every time on screen follow it.",
        error_messages={"required": "Choose the clock of the plant; it decides when a day ends."},
    )
    units = forms.ChoiceField(
        label="Units offered first",
        choices=Plant.Units.choices,
        help_text="Every form takes the other units too; what you type is kept as typed.",
    )

    def __init__(self, *args: Any, known: bool = False, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].choices = zone_names()  # type: ignore[attr-defined]
        if known:
            del self.fields["code"]


class RoomForm(forms.Form):
    """A new room."""

    code = code_field("Room code", "G1", 12)
    name = name_field("Name of the room")
    kind = forms.ChoiceField(
        label="Class", choices=RoomKind.choices, help_text="What the room makes: food and medical have stricter rules."
    )
    valid_from = day_field("Class holds since", help_text="The first day of this class; an older one is right too.")
    cleanliness = forms.CharField(
        label="Cleanliness", max_length=120, required=False, help_text="For example the ISO 14644-1 class."
    )


class ReclassifyForm(forms.Form):
    """Another class for a room."""

    kind = forms.ChoiceField(label="New class", choices=RoomKind.choices)
    valid_from = moment_field("Holds from")
    reason = reason_field()
    secret = forms.CharField(
        label="Your password",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="Only when the new class is looser: QA signs that.",
    )


class LineForm(FigureForm):
    """A new line."""

    figures = {"max_speed_m_per_min": "Fastest speed"}
    code = code_field("Line code", "A", 12)
    name = name_field("Name of the line")
    reversing = forms.BooleanField(
        label="The web also runs backwards", required=False, help_text="Then no tail of tape trails in both directions."
    )
    sections = (("", ("code", "name", "max_speed_m_per_min", "reversing")),)


class ZoneForm(forms.Form):
    """One tension zone of a new line."""

    control = forms.ChoiceField(
        label="Control", choices=[("", "no such zone"), *TensionZone.Control.choices], required=False
    )
    sensor = forms.CharField(label="Sensor", max_length=60, required=False)
    calibrated_on = day_field("Calibrated on", required=False)


ZoneSet = forms.formset_factory(ZoneForm, extra=4, max_num=9)


class PositionForm(FigureForm):
    """One more place on a line."""

    figures = {"surface_temp_c": "Surface temperature in operation"}
    code = code_field("Position", "A05", 20)
    order = forms.IntegerField(label="Number along the line", min_value=1, max_value=9999)
    kind = forms.ChoiceField(
        label="Kind of roller", choices=Position.Kind.choices, help_text="Everything but a plain idler stays bare."
    )
    kept_bare = forms.BooleanField(label="Never taped although it is an idler", required=False)
    note = forms.CharField(label="Note", max_length=200, required=False)
    sections = (("", ("code", "order", "room", "zone", "kind", "kept_bare", "surface_temp_c", "note")),)

    def __init__(self, *args: Any, line: Line, **kwargs: Any):
        super().__init__(*args, **kwargs)
        zones = [("", "none"), *((zone.number, f"zone {zone.number}, {zone.control}") for zone in line.zones.all())]
        self.fields["room"] = forms.ModelChoiceField(Room.objects.all(), label="Room", to_field_name="code")
        self.fields["zone"] = forms.TypedChoiceField(
            label="Tension zone", choices=zones, coerce=int, empty_value=None, required=False
        )


class StepForm(FigureForm):
    """How the web passes one position; an empty number means not on this path."""

    figures = {"wrap_deg": "Wrap", "entry_span_mm": "Span before it"}
    order = forms.IntegerField(label="Number", min_value=1, max_value=999, required=False)
    rotation = forms.ChoiceField(label="Rotation", choices=PathStep.Rotation.choices)
    web_side = forms.ChoiceField(label="Web side", choices=PathStep.Side.choices)


class PathForm(forms.Form):
    """The name of a path; its steps are `StepForm`s."""

    name = forms.CharField(label="Name of the path", max_length=60, error_messages={"required": "Name the path."})
    reason = forms.CharField(label="Why it is drawn anew", max_length=500, required=False, help_text=REASON)

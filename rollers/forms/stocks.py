"""Shapes of what the pages of stocks, calibrations, surveys and files ask for."""

from typing import Any

from django import forms

from plant.floor.forms.common import code_field, name_field, reason_field
from plant.floor.models import RoomKind
from plant.web.forms import FigureForm, Sections, day_field
from rollers.models import RecipeVersion, TapeStock


class StockForm(FigureForm):
    """What is known of a kind of tape."""

    figures = {
        "thickness_mm": "Thickness of one layer",
        "thickness_min_mm": "Thinnest lot",
        "thickness_max_mm": "Thickest lot",
        "width_mm": "Width",
        "roughness_um": "Roughness Rq of the backing",
        "friction": "Friction of the web on it",
        "max_temp_c": "Hottest roller it stands",
    }
    needed = frozenset({"thickness_mm", "width_mm", "roughness_um"})
    helps = {
        "thickness_mm": "As applied, from the supplier's sheet or measured.",
        "friction": "Empty: as on the bare roller.",
    }
    name = name_field("What it is")
    backing = forms.CharField(label="Backing", max_length=60, required=False)
    adhesive = forms.CharField(label="Adhesive", max_length=60, required=False)
    colour = forms.CharField(label="Colour in words", max_length=40, required=False)
    latex = forms.BooleanField(label="Contains latex", required=False)
    room_kinds = forms.MultipleChoiceField(
        label="May be used in",
        choices=RoomKind.choices,
        widget=forms.CheckboxSelectMultiple,
        help_text="Food and medical are allowed by QA.",
        error_messages={"required": "Choose at least one class of room."},
    )
    contact_statement = forms.CharField(label="Contact statement", max_length=120, required=False)
    contact_statement_ends = day_field("It ends on", required=False)
    max_life_days = forms.IntegerField(
        label="Longest life on a roller, days", required=False, min_value=1, max_value=3650
    )
    TEXTS = (
        "backing",
        "adhesive",
        "colour",
        "latex",
        "room_kinds",
        "contact_statement",
        "contact_statement_ends",
        "max_life_days",
    )
    sections: Sections = (
        ("Tape", ("name", "backing", "adhesive", "colour", "latex")),
        ("Figures", ("thickness_mm", "width_mm", "roughness_um", "friction", "max_temp_c")),
        ("Lots and life", ("thickness_min_mm", "thickness_max_mm", "max_life_days")),
        ("Rooms", ("room_kinds", "contact_statement", "contact_statement_ends")),
    )

    def stock_values(self) -> dict[str, Any]:
        """What a stock is made of."""
        return self.values() | {name: self.cleaned_data[name] for name in self.TEXTS}


class NewStockForm(StockForm):
    """A new kind of tape."""

    code = code_field("Stock code", "T1", 20)
    sections: Sections = (("Tape", ("code", *StockForm.sections[0][1])), *StockForm.sections[1:])


class ChangeStockForm(StockForm):
    """Changed facts about a tape."""

    reason = reason_field()


class CalibrationForm(forms.Form):
    """One calibration certificate."""

    certificate = forms.CharField(label="Certificate number", max_length=80)
    done_on = day_field("Calibrated on")
    due_on = day_field("Next due on")
    uncertainty = forms.CharField(
        label="Expanded uncertainty, k = 2", max_length=20, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    unit = forms.CharField(label="Its unit", max_length=12, initial="mm")
    found_in_tolerance = forms.TypedChoiceField(
        label="The gauge was found",
        choices=[("yes", "in tolerance"), ("no", "out of tolerance")],
        coerce=lambda word: word == "yes",
        help_text="As found, before any adjustment. Out of tolerance: look at what was measured with it since.",
    )


class SeenForm(forms.Form):
    """What is on a roller at the survey."""

    state = forms.ChoiceField(
        label="On the roller", choices=[("bare", "bare"), ("taped", "taped"), ("unknown", "cannot be told")]
    )
    text = forms.CharField(
        label="Tape in words",
        max_length=200,
        required=False,
        help_text="Which tape, how many wraps, which ends, how far from the roller centre.",
    )
    pieces = forms.IntegerField(
        label="Pieces of tape, counted",
        required=False,
        min_value=0,
        max_value=999,
        help_text="As many must come off later.",
    )

    def __init__(self, *args: Any, versions: list[RecipeVersion], **kwargs: Any):
        super().__init__(*args, **kwargs)
        choices = [("", "none"), *((str(version.pk), str(version)) for version in versions)]
        self.fields["version"] = forms.ChoiceField(
            label="Recipe it follows", choices=choices, required=False, help_text="Where there is one."
        )


class FileForm(forms.Form):
    """A CSV file."""

    file = forms.FileField(
        label="CSV file",
        help_text="UTF-8, comma or semicolon, at most 10 MB. It is only looked at first.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,text/csv"}),
        error_messages={
            "required": "Choose a CSV file.",
            "empty": "The file is empty. Download the blank file here and fill it in.",
        },
    )


def first_values(stock: TapeStock) -> dict[str, Any]:
    """The facts of a stock beside its figures."""
    return {name: getattr(stock, name) for name in ("name", *StockForm.TEXTS)}

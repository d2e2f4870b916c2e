"""The modulus of a product: the files of pulled strips, and taking the answer over."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from calcs.materials import MATERIALS

MOST_FILES = 20


class ManyFiles(forms.ClearableFileInput):
    """A file input that takes several files."""

    allow_multiple_selected = True


class CurvesField(forms.FileField):
    """One or more files."""

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        """Every file by the rules of one."""
        files = data if isinstance(data, list | tuple) else [data]
        cleaned = [super(CurvesField, self).clean(one, initial) for one in (files or [None])]
        if len(cleaned) > MOST_FILES:
            raise forms.ValidationError(f"At most {MOST_FILES} files at once; these are {len(cleaned)}.")
        return cleaned


class StripsForm(forms.Form):
    """The strips of one product in one direction."""

    strips = CurvesField(
        label="Force-extension files",
        help_text="CSV, one file for each strip; at least five strips show the scatter. They are only looked at first.",
        widget=ManyFiles(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
        error_messages={
            "required": "Choose at least one file of a pulled strip.",
            "empty": "A file is empty. Choose the file of the pulled strip.",
        },
    )
    direction = forms.ChoiceField(
        label="Strips cut along",
        choices=(("MD", "machine direction (MD)"), ("CD", "cross direction (CD)")),
        initial="MD",
        error_messages={"required": "Choose MD or CD: the way in which the strips were cut."},
    )
    web_temperature_c = forms.FloatField(
        label="Web temperature on the line, °C",
        required=False,
        min_value=-100,
        max_value=400,
        help_text="Empty when not known; the test's own temperature stands in the file.",
        error_messages={"invalid": "Web temperature: type degrees Celsius as a figure, for example 23."},
    )


class TakeOverForm(forms.Form):
    """What was looked at, to be written as the next version."""

    digests = forms.CharField(widget=forms.HiddenInput)
    names = forms.CharField(widget=forms.HiddenInput)
    direction = forms.CharField(widget=forms.HiddenInput)
    web_temperature_c = forms.FloatField(widget=forms.HiddenInput, required=False)
    seen_version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why the figures change",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why the figures change; the reason stands in the record."},
    )
    confirmed = forms.BooleanField(
        label="A line strain outside the usual range is meant",
        required=False,
        help_text="Tick only when the figures were checked.",
    )


class TableForm(forms.Form):
    """A web family of the table."""

    material = forms.ChoiceField(
        label="Web family",
        required=False,
        choices=[("", "choose"), *((name, name) for name in MATERIALS)],
        error_messages={"invalid_choice": "%(value)s is not in the table; choose a family from the list."},
    )

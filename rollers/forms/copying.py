"""Taking a recipe to another roller."""

from collections.abc import Iterable
from typing import Any

from django import forms

from plant.floor.models import PathStep


class CopyForm(forms.Form):
    """Which roller; after looking, under which title."""

    step = forms.IntegerField(
        label="Other roller",
        error_messages={"required": "Choose the roller.", "invalid": "Choose the roller from the list."},
    )
    title = forms.CharField(label="Title there", max_length=120, required=False)

    def __init__(self, *args: Any, steps: Iterable[PathStep], **kwargs: Any):
        super().__init__(*args, **kwargs)
        named = [(step.pk, f"{step.position.code}, path {step.path}") for step in steps]
        self.fields["step"].widget = forms.Select(choices=[("", "choose a roller"), *named])

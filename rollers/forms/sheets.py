"""The product sheet: for every position of the path a recipe in force, or bare."""

from collections.abc import Mapping
from typing import Any

from django import forms

from plant.floor.models import Position
from rollers.models import RecipeVersion


class SheetForm(forms.Form):
    """One choice per position that may carry tape, named `position-<id>`; empty means bare."""

    def __init__(self, *args: Any, offers: Mapping[Position, list[tuple[RecipeVersion, str]]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.offers = offers
        for position, recipes in offers.items():
            choices = [("", "bare"), *((str(version.pk), label) for version, label in recipes)]
            wrong = (
                f"{position.code}: the chosen recipe is not in force any more. "
                "Choose again; the rest of the sheet is as you left it."
            )
            self.fields[f"position-{position.pk}"] = forms.ChoiceField(
                label=position.code, choices=choices, required=False, error_messages={"invalid_choice": wrong}
            )

    @property
    def choices(self) -> dict[Position, RecipeVersion]:
        """The positions that carry a recipe."""
        found = {}
        for position, recipes in self.offers.items():
            chosen = self.cleaned_data.get(f"position-{position.pk}", "")
            named = next((version for version, _ in recipes if str(version.pk) == chosen), None)
            if named is not None:
                found[position] = named
        return found

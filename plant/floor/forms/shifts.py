"""Shift patterns, dates to plan, and crews."""

from collections.abc import Iterable
from typing import Any

from django import forms

from plant.people.models import Person
from plant.web.forms import day_field


class PatternForm(forms.Form):
    """A shift as it recurs every day; an empty name means none."""

    name = forms.CharField(label="Shift", max_length=20, required=False)
    starts = forms.TimeField(
        label="From", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    ends = forms.TimeField(label="To", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))

    def clean(self) -> dict[str, Any]:
        """A named shift has both times."""
        given = super().clean() or {}
        if given.get("name") and not (given.get("starts") and given.get("ends")):
            self.add_error(
                "starts", f"Shift {given['name']}: type when it starts and ends, for example 06:00 and 14:00."
            )
        return given


PatternSet = forms.formset_factory(PatternForm, extra=4, max_num=6)


class PlanShiftsForm(forms.Form):
    """From which day to which shifts are planned."""

    first = day_field("First day")
    last = day_field("Last day")


class CrewForm(forms.Form):
    """Who works a shift."""

    crew = forms.ModelMultipleChoiceField(
        Person.objects.none(), label="Crew", widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(self, *args: Any, people: Iterable[Person], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["crew"].queryset = people  # type: ignore[attr-defined]

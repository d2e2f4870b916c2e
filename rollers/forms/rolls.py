"""Shapes of what is asked about rolls of product."""

from typing import Any

from django import forms

from plant.web.forms import Sections, moment_field
from rollers.forms.store import LengthForm


class RollsForm(forms.Form):
    """A line and two times."""

    line = forms.ChoiceField(label="Line")
    since = moment_field("From")
    until = moment_field("Until")

    def __init__(self, *args: Any, lines: list[tuple[str, str]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["line"].choices = lines  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """The first time comes first, and both lie within a year."""
        cleaned = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until <= since:
            self.add_error("until", "The second time must be later than the first.")
        elif since and until and (until - since).days > 366:
            self.add_error("until", "Ask for at most a year at once.")
        return cleaned


class RollForm(LengthForm):
    """A finished roll."""

    figures = {"length_m": "Length of web on it"}
    needed = frozenset({"length_m"})
    line = forms.ChoiceField(label="Line")
    number = forms.CharField(label="Number on the roll", max_length=40)
    began_at = moment_field("Winding began")
    ended_at = moment_field("It came off")
    sections: Sections = (("", ("line", "number", "length_m", "began_at", "ended_at")),)

    def __init__(self, *args: Any, lines: list[tuple[str, str]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["line"].choices = lines  # type: ignore[attr-defined]

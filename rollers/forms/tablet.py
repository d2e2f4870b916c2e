"""Shapes of what is typed on the tablet. Whether it may be done is asked of the services."""

from typing import Any

from django import forms

from rollers.services.spot import LOCKOUT


class LockoutForm(forms.Form):
    """The six steps, confirmed one by one, and the number of the own lock."""

    lock_number = forms.CharField(
        label="Number of my own lock",
        max_length=40,
        help_text="As it stands on the lock",
        error_messages={"required": "Type the number of your own lock."},
    )

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        for number, (key, sentence) in enumerate(LOCKOUT, start=1):
            self.fields[key] = forms.BooleanField(label=f"{number}. {sentence}", required=False)
        self.order_fields([key for key, _ in LOCKOUT] + ["lock_number"])

    def confirmed(self) -> list[str]:
        """The steps that were confirmed."""
        return [key for key, _ in LOCKOUT if self.cleaned_data.get(key)]


class PiecesForm(forms.Form):
    """How many pieces, counted by hand."""

    pieces = forms.IntegerField(label="Pieces counted", min_value=0, max_value=200)


class RemoveForm(PiecesForm):
    """What came off."""

    residue = forms.TypedChoiceField(
        label="Is there residue on the face?",
        choices=[("no", "No, clean and dry"), ("yes", "Yes, residue is left")],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )


class MeasureForm(forms.Form):
    """The build at each taped end."""

    def __init__(self, *args: Any, ends: list[str], **kwargs: Any):
        super().__init__(*args, **kwargs)
        for end in sorted(ends, key=lambda each: each != "operator"):  # as in the drawing, operator end first
            self.fields[end] = forms.FloatField(label=f"Build at the {end} end, mm", min_value=0.001, max_value=5)

    def builds(self) -> dict[str, float]:
        """Build in mm by end."""
        return {end: self.cleaned_data[end] for end in self.fields}


class CheckForm(PiecesForm):
    """What the second person sees."""

    tail_trails = forms.TypedChoiceField(
        label="The outer tail",
        choices=[("yes", "trails: it points back against the running direction"), ("no", "leads, or I am not sure")],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )


class CleanForm(forms.Form):
    """With what it was cleaned."""

    agent = forms.CharField(label="Approved cleaning agent, or “dry wipe”", max_length=80)


class FoundForm(forms.Form):
    """Tape that no record shows."""

    what = forms.CharField(
        label="What did you find, and where on the roller?", max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )

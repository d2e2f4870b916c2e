"""How sure: the range of each figure, ± percent."""

from typing import Any

from django import forms

from rollers.how_sure import SPREADS


class SureForm(forms.Form):
    """One range for each figure; what is not sent has the usual one, and 0 means exactly known."""

    def __init__(self, data: Any = None, **kwargs: Any):
        given = data.copy() if data is not None else {}
        for spread in SPREADS:
            given.setdefault(f"sure_{spread.name}", f"{spread.usual:g}")
        super().__init__(given, **kwargs)
        for spread in SPREADS:
            wrong = f"{spread.label}: type a percentage from 0 to 60."
            self.fields[f"sure_{spread.name}"] = forms.FloatField(
                label=spread.label,
                min_value=0,
                max_value=60,
                widget=forms.NumberInput(attrs={"min": 0, "max": 60, "step": "any"}),
                error_messages={"required": wrong, "invalid": wrong, "min_value": wrong, "max_value": wrong},
            )

    @property
    def percents(self) -> dict[str, float]:
        """± percent by the name of the spread."""
        return {spread.name: self.cleaned_data[f"sure_{spread.name}"] for spread in SPREADS}

"""Figures typed with a unit: one input for the number, one for the unit."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict

from calcs.units import known_units
from plant.errors import Refused
from plant.web.quantities import Typed, conversion, stored, stored_unit, unit_sign, usual_unit


def dict_of(sent: Mapping[str, Any]) -> QueryDict:
    """What was sent, open to additions."""
    if isinstance(sent, QueryDict):
        return sent.copy()
    made = QueryDict(mutable=True)
    made.update(dict(sent))
    return made


class WithFigures(forms.Form):
    """A form with figures; `figures` says for each input which stored field it means.

    After cleaning, `number(name)` is the figure in the stored unit (None where nothing was typed) and `typed` what
    was typed, by stored field.
    """

    figures: dict[str, tuple[str, str]] = {}
    needed: frozenset[str] = frozenset()

    def __init__(self, *args: Any, units: str = "si", **kwargs: Any):
        super().__init__(*args, **kwargs)
        sent = dict_of(self.data)
        for name, (field, label) in self.figures.items():
            quantity, _ = stored_unit(field)
            if self.is_bound and not sent.get(f"{name}_unit"):
                sent[f"{name}_unit"] = usual_unit(field, units)
            self.fields[name] = forms.CharField(
                label=label,
                required=name in self.needed,
                max_length=40,
                error_messages={"required": f"{label}: type a figure."},
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 8}),
            )
            choices = [(unit, unit_sign(unit)) for unit in known_units(quantity)]
            self.fields[f"{name}_unit"] = forms.ChoiceField(
                label=f"unit of {label}", choices=choices, required=False, initial=usual_unit(field, units)
            )
        self.data = sent
        self._numbers: dict[str, float | None] = {}
        self._typed: dict[str, Typed] = {}

    def clean(self) -> dict[str, Any]:
        """Take the figures; what is no figure gets a sentence at its input."""
        cleaned = super().clean() or {}
        for name, (field, _) in self.figures.items():
            text = str(cleaned.get(name) or "").strip()
            unit = str(cleaned.get(f"{name}_unit") or stored_unit(field)[1])
            self._numbers[name] = None
            if not text:
                continue
            try:
                self._numbers[name], typed = stored(field, Typed(text, unit))
            except Refused as refusal:
                self.add_error(name, refusal.sentence)
                continue
            if typed is not None:
                self._typed[name] = typed
        return cleaned

    def number(self, name: str) -> float | None:
        """The figure in the stored unit."""
        return self._numbers.get(name)

    @property
    def typed(self) -> dict[str, dict[str, str]]:
        """What was typed, by stored field, as rows keep it."""
        return {self.figures[name][0]: {"value": t.value, "unit": t.unit} for name, t in self._typed.items()}

    def shown(self, name: str) -> str:
        """The figure in the stored unit where another one was typed, for showing before anything is signed."""
        typed = self._typed.get(name)
        return conversion(self.figures[name][0], typed) if typed else ""

    def sent(self, *names: str) -> list[tuple[str, str]]:
        """What was sent for these inputs, name and value, to be sent again by another form of the page."""
        pairs = []
        for name in names:
            field = self.fields[name]
            value = field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
            values = value if isinstance(value, list) else [value]
            pairs += [(name, str(one)) for one in values if one not in (None, "", False)]
        return pairs

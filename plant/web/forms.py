"""Forms with figures: a number and its unit side by side, converted before anybody's eyes, saved after."""

import hashlib
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from calcs.units import known_units, unit_name
from plant.errors import Refused
from plant.web.quantities import Typed, conversion, stored, stored_unit, typed_of, unit_sign, usual_unit

Sections = tuple[tuple[str, tuple[str, ...]], ...]


EARLIEST, LATEST = 1950, 2200  # years; beyond them clocks, zones and anniversaries run out of calendar


def within_reach(day: date) -> None:
    """Refuse a day or moment that no record of a plant can mean.

    Raises
    ------
    ValidationError
        Naming the years that are taken.
    """
    if not EARLIEST <= day.year <= LATEST:
        raise ValidationError(f"The year {day.year} is not meant. Type a year from {EARLIEST} to {LATEST}.")


def day_field(label: str, *, required: bool = True, help_text: str = "", initial: Any = None) -> forms.DateField:
    """A calendar day."""
    wrong = "Type the day as year-month-day, for example 2026-03-25."
    return forms.DateField(
        label=label,
        required=required,
        help_text=help_text,
        initial=initial,
        validators=[within_reach],
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": wrong, "required": f"{label}: {wrong[0].lower()}{wrong[1:]}"},
    )


def moment_field(label: str, *, required: bool = True, help_text: str = "In plant time.") -> forms.DateTimeField:
    """A moment in plant time."""
    wrong = "Type it as date and time, for example 2026-03-25 06:00."
    return forms.DateTimeField(
        label=label,
        required=required,
        help_text=help_text,
        validators=[within_reach],
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        error_messages={"invalid": wrong, "required": wrong},
    )


class FigureForm(forms.Form):
    """`figures` gives the label of each stored field; plain ratios have no unit.

    A figure typed in another unit than the stored one is shown converted before it is saved: the first press of the
    button shows, the second saves (`is_seen`).
    """

    figures: Mapping[str, str] = {}
    needed: frozenset[str] = frozenset()
    helps: Mapping[str, str] = {}
    sections: Sections = ()

    def __init__(self, *args: Any, units: str = "si", **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["seen"] = forms.CharField(widget=forms.HiddenInput, required=False)
        for name, label in self.figures.items():
            quantity, _ = stored_unit(name)
            self.fields[name] = forms.CharField(
                label=label,
                required=name in self.needed,
                max_length=40,
                help_text=self.helps.get(name, ""),
                error_messages={"required": f"{label}: type a figure."},
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 9}),
            )
            if quantity != "ratio" or stored_unit(name)[1] == "%":
                choices = [(unit, unit_sign(unit)) for unit in known_units(quantity)]
                self.fields[f"{name}_unit"] = forms.ChoiceField(
                    label=f"Unit of {label}", choices=choices, required=False, initial=usual_unit(name, units)
                )
        self.typed: dict[str, Typed] = {}
        self.asks = False

    def clean(self) -> dict[str, Any]:
        """Take the figures; what is no figure gets a sentence at its input."""
        cleaned = super().clean() or {}
        for name in self.figures:
            text = str(cleaned.get(name) or "").strip()
            if not text:
                continue
            typed = Typed(text, str(cleaned.get(f"{name}_unit") or stored_unit(name)[1]))
            try:
                stored(name, typed)
            except Refused as refusal:
                self.add_error(name, refusal.sentence)
            else:
                self.typed[name] = typed
        return cleaned

    def values(self) -> dict[str, Typed | None]:
        """Every figure as it was typed, by stored field."""
        return {name: self.typed.get(name) for name in self.figures}

    def shown(self, name: str) -> str:
        """What is stored for a figure typed in another unit."""
        typed = self.typed.get(name)
        text = conversion(name, typed) if typed else ""
        return text.partition(" = ")[2] or text.partition(" ≈ ")[2]

    def is_seen(self) -> bool:
        """Whether the converted figures were on the page when the button was pressed."""
        converted = sorted(conversion(name, typed) for name, typed in self.typed.items() if self.shown(name))
        if not converted:
            return True
        print_of = hashlib.sha256("\n".join(converted).encode()).hexdigest()[:16]
        if self.data.get(self.add_prefix("seen")) == print_of:
            return True
        self.data = self.data.copy()  # type: ignore[attr-defined]
        self.data[self.add_prefix("seen")] = print_of  # type: ignore[index]
        self.asks = True
        return False

    def parts(self) -> Iterator[tuple[str, list[tuple[BoundField, BoundField | None, str]]]]:
        """The form as sections of inputs: (value, unit or none, converted figure)."""
        units = {f"{name}_unit" for name in self.figures}
        named = [name for _, names in self.sections for name in names]
        rest = [name for name in self.fields if name not in units and name not in named and name != "seen"]
        for title, names in (*self.sections, ("", tuple(rest))):
            rows = []
            for name in names:
                unit = self[f"{name}_unit"] if f"{name}_unit" in self.fields else None
                rows.append((self[name], unit, self.shown(name) if name in self.figures else ""))
            if rows:
                yield title, rows


def as_typed(row: Any, figures: Mapping[str, str]) -> dict[str, str]:
    """What was typed for a row, as the first values of its form."""
    first: dict[str, str] = {}
    for name in figures:
        typed = typed_of(row, name)
        if typed is not None:
            quantity, _ = stored_unit(name)
            first |= {name: typed.value, f"{name}_unit": unit_name(typed.unit, quantity)}
    return first

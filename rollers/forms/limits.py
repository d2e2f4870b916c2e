"""Changing limits: the new figures, why, from where, and two persons who sign together."""

import math
from collections.abc import Mapping
from typing import Any

from django import forms

from calcs.limits import Limit
from plant.web.quantities import digits

FIXED = frozenset({"kind"})  # a word, not a figure: which kinds are bare by type is no setting of this page
LEVELS = (("target", "aim"), ("caution", "caution"), ("refuse", "refused"))


def _text(value: float | None) -> str:
    return "" if value is None else digits(float(value))


class LimitsForm(forms.Form):
    """Inputs `<limit>-<level>`; an empty one means there is no such level."""

    reason = forms.CharField(
        label="Why the limits change",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why the limits change."},
    )
    source = forms.CharField(
        label="Where the new figures come from",
        help_text="It stands beside every changed limit, for example: own trials on line B, March 2026.",
        max_length=200,
        error_messages={"required": "Say where the new figures come from; it stands beside each changed limit."},
    )
    secret = forms.CharField(
        label="Your password, again",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
        error_messages={"required": "Type your own password to sign. Nothing else you typed is lost."},
    )
    other_staff_no = forms.CharField(
        label="Staff number of the second person",
        max_length=20,
        error_messages={"required": "Engineer and QA sign together: type the staff number of the other."},
    )
    other_secret = forms.CharField(
        label="Password of the second person",
        help_text="Typed by that person, here and now.",
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        strip=False,
        error_messages={"required": "The second person types the own password here."},
    )

    def __init__(self, *args: Any, limits: Mapping[str, Limit], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.limits = {name: limit for name, limit in limits.items() if name not in FIXED}
        for name, limit in self.limits.items():
            for level, word in LEVELS:
                self.fields[f"{name}-{level}"] = forms.CharField(
                    label=f"{limit.title}, {word}",
                    required=False,
                    initial=_text(getattr(limit, level)),
                    widget=forms.TextInput(
                        attrs={"inputmode": "decimal", "size": 6, "aria-label": f"{limit.title}, {word}"}
                    ),
                )

    def clean(self) -> dict[str, Any]:
        """Figures have to be finite numbers; something has to change, and its source has to be named."""
        cleaned = super().clean() or {}
        self.changes: dict[str, dict[str, Any]] = {}
        for name, limit in self.limits.items():
            for level, word in LEVELS:
                self._take(name, limit, level, word, str(cleaned.get(f"{name}-{level}", "")))
        if not self.changes and not self.errors:
            self.add_error(None, "No limit differs from the present one. Change a figure first.")
        for change in self.changes.values():
            change["source"] = str(cleaned.get("source", "")).strip()
        return cleaned

    def _take(self, name: str, limit: Limit, level: str, word: str, text: str) -> None:
        text, old = text.strip(), getattr(limit, level)
        if text == _text(old):
            return
        try:
            value = float(text) if text else None
        except ValueError:
            value = math.nan
        if value is not None and not math.isfinite(value):
            self.add_error(f"{name}-{level}", f"{limit.title}, {word}: {text!r} is no figure. Type a number like 1.6.")
        elif value != old:
            self.changes.setdefault(name, {})[level] = value

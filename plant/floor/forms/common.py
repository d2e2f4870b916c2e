"""Inputs that several forms of the floor have."""

from django import forms

REASON = "Stands in the record beside the change."


def code_field(label: str, example: str, most: int) -> forms.CharField:
    """A short code."""
    return forms.CharField(
        label=label,
        max_length=most,
        help_text=f"Letters, digits, dots and hyphens, for example {example}.",
        error_messages={"required": f"{label}: type one, for example {example}."},
    )


def name_field(label: str = "Name", help_text: str = "") -> forms.CharField:
    """A name in words."""
    return forms.CharField(
        label=label, max_length=120, help_text=help_text, error_messages={"required": f"{label}: type it."}
    )


def reason_field() -> forms.CharField:
    """Why something changes."""
    return forms.CharField(
        label="Reason", help_text=REASON, max_length=500, error_messages={"required": "Say why in a few words."}
    )

"""Shapes of what is typed about persons. What is allowed is decided by the services."""

from typing import Any

from django import forms

from plant.people.models import Person, Role
from plant.web.forms import within_reach


class Secret(forms.CharField):
    """A secret: never shown again, never trimmed (spaces belong to a passphrase), pasting allowed."""

    def __init__(self, *, autocomplete: str, **more: Any):
        widget = forms.PasswordInput(
            attrs={"autocomplete": autocomplete, "autocapitalize": "none", "spellcheck": "false"}
        )
        super().__init__(widget=widget, strip=False, max_length=256, **more)


def reason(
    help_text: str = "It stands in the record.", *, label: str = "Reason", longest: int = 200
) -> forms.CharField:
    """The reason of an act."""
    return forms.CharField(
        label=label, help_text=help_text, max_length=longest, widget=forms.Textarea(attrs={"rows": 2})
    )


class SignIn(forms.Form):
    """The two parts of every sign-in."""

    staff_no = forms.CharField(
        label="Staff number",
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )
    secret = Secret(label="Password, or starter code", autocomplete="current-password")
    next = forms.CharField(required=False, widget=forms.HiddenInput, max_length=500)


class _Twice(forms.Form):
    """Something new, typed twice."""

    new: forms.CharField
    again: forms.CharField

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        first, second = typed.get("new"), typed.get("again")
        if first and second and first != second:
            self.add_error("again", "The two do not match. Type the same twice.")
        return typed


class NewPassword(_Twice):
    """The first own password, after a starter code."""

    new = Secret(
        label="New password",
        autocomplete="new-password",
        help_text="At least 15 characters. A few words in a row are easy to keep in mind; spaces are welcome.",
    )
    again = Secret(label="New password again", autocomplete="new-password")


class VouchedPassword(NewPassword):
    """The first one, with a colleague who says that it is this person."""

    voucher = forms.CharField(
        label="Staff number of a colleague beside you",
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
        help_text="Anybody of the plant who knows you, but not who gave you the code.",
    )
    voucher_secret = Secret(
        label="Password of that colleague",
        autocomplete="off",
        help_text="Your colleague types it: it signs that it is you.",
    )


class ChangePassword(NewPassword):
    """A later one: whoever finds a screen unattended must not be able to take it over."""

    secret = Secret(label="Password now", autocomplete="current-password")
    field_order = ("secret", "new", "again")


class NewPin(_Twice):
    """Digits for gloves."""

    secret = Secret(label="Password now", autocomplete="current-password")
    new = Secret(
        label="New PIN",
        autocomplete="off",
        help_text="Six to twelve digits, for facts recorded on the shop floor of general rooms.",
    )
    again = Secret(label="New PIN again", autocomplete="off")
    field_order = ("secret", "new", "again")


class Day(forms.DateField):
    """A calendar day in plant time."""

    def __init__(self, **more: Any):
        widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        super().__init__(widget=widget, validators=[within_reach], **more)


class Join(forms.Form):
    """A joiner."""

    staff_no = forms.CharField(
        label="Staff number", max_length=20, help_text="Never given twice, also not after somebody left."
    )
    name = forms.CharField(label="Name", max_length=120)
    employer = forms.ChoiceField(label="Works for", choices=Person.Employer.choices, widget=forms.RadioSelect)
    roles = forms.MultipleChoiceField(
        label="Roles",
        choices=Role.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="An outside person can be a guest only: look, propose and comment.",
    )
    first_day = Day(label="First day")
    last_day = Day(label="Last day", required=False, help_text="Needed for an outside person. Access ends at midnight.")
    home_shift = forms.CharField(label="Home shift", max_length=20, required=False)
    email = forms.EmailField(label="E-mail", required=False)


class Leave(forms.Form):
    """A leaver."""

    leaves_at = forms.DateTimeField(
        label="Sign-in ends",
        help_text="Date and time by the plant's clock. Certificates and history stay.",
        validators=[within_reach],
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
    )
    reason = reason()


class GrantRole(forms.Form):
    """One role more."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    reason = forms.CharField(label="Reason", max_length=200, required=False)


class EndRole(forms.Form):
    """One role less."""

    role = forms.ChoiceField(label="Role to end", choices=())
    reason = forms.CharField(label="Reason", max_length=200, help_text="It stands in the record.")

    def __init__(self, *args: Any, held: list[tuple[str, str]], **more: Any):
        super().__init__(*args, **more)
        self.fields["role"].choices = held  # type: ignore[attr-defined]


class Nothing(forms.Form):
    """A button that asks for no more; a refusal still has a place."""


class EndBadge(forms.Form):
    """Why a card stops working."""

    reason = reason("Lost, returned, damaged. It stands in the record.")


class Conclude(forms.Form):
    """The end of a review of access."""

    conclusion = forms.CharField(
        label="What you found, and what follows",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="For example: who has a role too many, who left and was forgotten, what you had changed.",
    )
    secret = Secret(label="Your password again", autocomplete="current-password")

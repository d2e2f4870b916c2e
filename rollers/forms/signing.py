"""What is asked of a person who signs."""

from typing import Any

from django import forms


class SecretForm(forms.Form):
    """The own secret, typed again."""

    secret = forms.CharField(
        label="Your password, again",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
        error_messages={"required": "Type your own password to sign. Nothing else you typed is lost."},
    )


class ReleaseForm(SecretForm):
    """Release of a run; `seen` is the digest of what the page showed."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    field_order = ["seen", "secret"]


class ApproveForm(SecretForm):
    """One more signature on a recipe; the meaning is the one the page names."""

    meaning = forms.CharField(widget=forms.HiddenInput)
    field_order = ["meaning", "secret"]


class ReasonsForm(SecretForm):
    """The author's reason for each open check, then the secret. Fields are named `reason-<product>-<check>`."""

    def __init__(self, *args: Any, asked: dict[str, dict[str, dict[str, Any]]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        secret = self.fields.pop("secret")
        self.asked = asked
        for code, checks in asked.items():
            for check_id, check in checks.items():
                self.fields[f"reason-{code}-{check_id}"] = forms.CharField(
                    label=f"{code}, {check['title']}: why this {check['verdict']} is accepted",
                    help_text=check["sentence"],
                    widget=forms.Textarea(attrs={"rows": 2}),
                    error_messages={
                        "required": f"{code}, {check['title']}: write why this caution is accepted. "
                        "Nothing else you typed is lost."
                    },
                )
        self.fields["secret"] = secret

    @property
    def reasons(self) -> dict[str, dict[str, str]]:
        """Product code, check, reason as typed."""
        return {
            code: {check: str(self.data.get(f"reason-{code}-{check}", "")) for check in checks}
            for code, checks in self.asked.items()
        }


class ReasonForm(forms.Form):
    """Why something is taken out of force or ended."""

    reason = forms.CharField(label="Reason", widget=forms.Textarea(attrs={"rows": 2}), required=False)

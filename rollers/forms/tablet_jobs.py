"""Shapes of what is typed in the steps of a job under lockout."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext

from rollers.forms.tablet import SecondPerson, choice, photo_field, yes_no
from rollers.models import Piece, PieceFact
from rollers.services.removing import RESIDUES


class BeginForm(forms.Form):
    """Nothing to type; a trainee names the certified person who works beside."""

    certified_no = forms.CharField(label="Certified person beside you: staff number", max_length=20)
    certified_secret = forms.CharField(
        label="Certified person: own password", widget=forms.PasswordInput(attrs={"autocomplete": "off"}), strip=False
    )

    def __init__(self, *args: Any, trainee: bool, **kwargs: Any):
        super().__init__(*args, **kwargs)
        if not trainee:
            del self.fields["certified_no"], self.fields["certified_secret"]


class LockStepForm(forms.Form):
    """One step of the lockout; the one that hangs the lock asks for its number."""

    step = forms.CharField(widget=forms.HiddenInput, max_length=20)
    lock_number = forms.CharField(
        label="Number of my own lock",
        max_length=20,
        help_text="As it stands on the lock",
        error_messages={"required": "Type the number of your own lock."},
    )

    def __init__(self, *args: Any, step: str, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.initial["step"] = step
        if step != "lock":
            del self.fields["lock_number"]


class PrepareForm(forms.Form):
    """The face before tape."""

    clean = forms.BooleanField(label="The face is clean", required=False)  # type: ignore[assignment]
    dry = forms.BooleanField(label="The face is dry", required=False)
    no_residue = forms.BooleanField(label="No old residue is on it", required=False)
    marked = forms.BooleanField(label="The lanes are marked from the centre, outside the web", required=False)
    face_c = forms.FloatField(label="Temperature of the face, °C", min_value=-40, max_value=400)
    knife = forms.CharField(
        label="Number of the knife you take",
        max_length=20,
        required=False,
        help_text="It is counted out now and in again at the end",
    )

    def __init__(self, *args: Any, with_knife: bool, **kwargs: Any):
        super().__init__(*args, **kwargs)
        if not with_knife:
            del self.fields["knife"]


class WindForm(forms.Form):
    """The pieces wound on, and from which reel."""

    reel = forms.CharField(
        label="Label of the reel", max_length=20, help_text="Scan it, or type what stands under the code"
    )
    other_reel = forms.CharField(label="A second reel, if the first ran out", max_length=20, required=False)
    other_from = forms.IntegerField(
        label="From which piece on", min_value=1, max_value=200, required=False, help_text="Its number in the list"
    )
    pieces = forms.IntegerField(label="Pieces wound on", min_value=0, max_value=200)
    tail_trails = yes_no(
        "The outer tail", "trails: it points back against the running direction", "leads, or I am not sure"
    )
    finish_over_start = forms.BooleanField(label="Each lane finishes over its start, within 2 mm", required=False)


class MeasureForm(forms.Form):
    """Build and inner edge at each taped end."""

    def __init__(self, *args: Any, ends: Iterable[str], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.ends = sorted(ends, key=lambda each: each != "operator")  # as in the drawing, operator end first
        for end in self.ends:
            self.fields[end] = forms.FloatField(label=f"Build at the {end} end, mm", min_value=0.001, max_value=5)
        for end in self.ends:
            self.fields[f"edge_{end}"] = forms.FloatField(
                label=f"Inner edge at the {end} end, mm from the roller centre", min_value=0, max_value=10000
            )
        self.fields["runout"] = forms.FloatField(label="Runout, mm", min_value=0, max_value=10, required=False)
        self.fields["photo"] = photo_field()

    def builds(self) -> dict[str, float]:
        """Build in mm by end."""
        return {end: self.cleaned_data[end] for end in self.ends}

    def edges(self) -> dict[str, float]:
        """Inner edge in mm from the roller centre by end."""
        return {end: self.cleaned_data[f"edge_{end}"] for end in self.ends}


class CountForm(forms.Form):
    """Pieces and offcuts counted, each knife back."""

    pieces = forms.IntegerField(label="Pieces on the roller", min_value=0, max_value=200)
    offcuts = forms.IntegerField(label="Offcuts in the bag", min_value=0, max_value=200)

    def __init__(self, *args: Any, knives: Iterable[str], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.knives = list(knives)
        for number in self.knives:
            answers = [
                ("whole", "back, whole"),
                ("broken", "back, a part of the blade is missing"),
                ("out", "not back"),
            ]
            self.fields[f"knife_{number}"] = choice(f"{gettext('Knife')} {number}", answers)

    def returned(self) -> dict[str, bool]:
        """Knives that come back, and whether each is whole."""
        answers = {number: self.cleaned_data[f"knife_{number}"] for number in self.knives}
        return {number: answer == "whole" for number, answer in answers.items() if answer != "out"}


class LockOffForm(forms.Form):
    """Before the own lock comes off."""

    clear = forms.BooleanField(label="Tools and people are clear of the roller, guards are back", required=False)
    told = forms.BooleanField(label="Everybody who works here was told", required=False)


class PlainForm(forms.Form):
    """A step that is confirmed with its button alone."""


STILL_ON = "on"
ANSWERS = (
    (STILL_ON, "still on"),
    (PieceFact.State.INTACT, "in the bag, intact"),
    (PieceFact.State.IN_PARTS, "in parts"),
    (PieceFact.State.MISSING, "missing"),
)


class LaneField(forms.ChoiceField):
    """What became of one piece; left alone it is still on."""

    widget = forms.RadioSelect

    def clean(self, value: Any) -> Any:
        """An answer that was not sent means that nothing was said about the piece."""
        return super().clean(value or STILL_ON)


class PiecesForm(SecondPerson):
    """What became of each piece that is on."""

    def __init__(self, *args: Any, pieces: Iterable[Piece], extra: bool, bag: str, **kwargs: Any):
        super().__init__(*args, **kwargs)
        second = {name: self.fields.pop(name) for name in ("second_no", "second_secret")}
        self.pieces = list(pieces)
        for piece in self.pieces:
            where = f"{piece.end} end, lane {piece.lane}" if piece.end != "unknown" else f"piece {piece.number}"
            label = where[:1].upper() + where[1:]
            self.fields[f"piece_{piece.pk}"] = LaneField(label=label, choices=ANSWERS, initial=STILL_ON)
        if extra:
            self.fields["extra"] = forms.IntegerField(
                label="Pieces that no record shows, in the bag", min_value=0, max_value=200, initial=0
            )
        self.fields["bag"] = forms.CharField(
            label="Label of the bag", max_length=20, required=False, initial=bag, help_text="As it stands on the bag"
        )
        for name, field in second.items():
            self.fields[name] = field

    def outcomes(self) -> dict[int, str]:
        """Piece by key: intact, in parts or missing; those still on are not named."""
        answers = {piece.pk: self.cleaned_data[f"piece_{piece.pk}"] for piece in self.pieces}
        return {pk: answer for pk, answer in answers.items() if answer != STILL_ON}


class StopForm(forms.Form):
    """The rest stays on for now."""

    reason = forms.CharField(label="Why does the rest stay on for now?", max_length=300)


class FinishForm(forms.Form):
    """The face after the tape."""

    residue = choice("Residue on the face", RESIDUES)
    agent = forms.CharField(label="Approved cleaning agent, or “dry wipe”", max_length=80, required=False)
    surface_ok = forms.BooleanField(label="I looked at the face: clean, dry, no damage", required=False)


class CleanForm(forms.Form):
    """With what it was cleaned."""

    agent = forms.CharField(label="Approved cleaning agent, or “dry wipe”", max_length=80)
    surface_ok = forms.BooleanField(label="I looked at the face: clean, dry, no damage", required=False)

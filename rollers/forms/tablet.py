"""Shapes of what is typed at a roller, outside the steps of a job. Whether it may be done is asked of the services."""

from typing import Any

from django import forms

from rollers.rules_application import DEFECTS, RESULTS
from rollers.services.judging import KINDS

GRADES = [
    (0, "0: flat"),
    (1, "1: troughs in the span only"),
    (2, "2: troughs reach the roller, no crease"),
    (3, "3: a crease comes and goes"),
    (4, "4: steady crease, fold-over or break"),
]


def choice(label: str, choices: Any, **more: Any) -> forms.TypedChoiceField:
    """A question with its answers as large buttons to choose from."""
    return forms.TypedChoiceField(label=label, choices=choices, widget=forms.RadioSelect, **more)


def yes_no(label: str, yes: str, no: str) -> forms.TypedChoiceField:
    """A question with two answers in words; nothing is chosen beforehand."""
    return choice(label, [("yes", yes), ("no", no)], coerce=lambda value: value == "yes")


def photo_field() -> forms.FileField:
    """A photograph from the tablet's camera."""
    return forms.FileField(
        label="Photograph",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )


class SecondPerson(forms.Form):
    """A second person signs with the own number and password."""

    second_no = forms.CharField(label="Second person: staff number", max_length=20, required=False)
    second_secret = forms.CharField(
        label="Second person: own password",
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        strip=False,
        required=False,
    )


class CheckForm(forms.Form):
    """What the second person sees."""

    pieces = forms.IntegerField(label="Pieces counted", min_value=0, max_value=200)
    tail_trails = yes_no(
        "The outer tail", "trails: it points back against the running direction", "leads, or I am not sure"
    )


class RestartForm(forms.Form):
    """One step of the slow restart."""

    speed = forms.FloatField(label="Line speed now, m/min", min_value=0.1, max_value=3000)
    minutes = forms.FloatField(label="Watched for, min", min_value=0, max_value=600)
    one_roll = forms.BooleanField(label="One whole roll was made at this speed", required=False)
    grade = choice("Grade of the wrinkle now", GRADES, coerce=int)
    grade_before = forms.TypedChoiceField(
        label="Grade before the tape went on, if known",
        choices=[("", "not known"), *GRADES],
        coerce=lambda value: int(value) if value else None,
        empty_value=None,
        required=False,
    )
    downstream = forms.BooleanField(
        label="I looked at the two rollers after it and at the inner edge of the tape", required=False
    )

    def __init__(self, *args: Any, step: str, **kwargs: Any):
        super().__init__(*args, **kwargs)
        if step != "crawl":
            del self.fields["grade_before"]
        if step != "full":
            del self.fields["one_roll"]


class LookForm(forms.Form):
    """How tape that is on looks."""

    result = choice("How is it?", RESULTS)
    defects = forms.MultipleChoiceField(
        label="What do you see?", choices=DEFECTS, widget=forms.CheckboxSelectMultiple, required=False
    )
    pieces_seen = forms.IntegerField(label="Pieces seen", min_value=0, max_value=200)
    grade = forms.TypedChoiceField(
        label="Grade of the wrinkle",
        choices=[("", "not looked at"), *GRADES],
        coerce=lambda value: int(value) if value else None,
        empty_value=None,
        required=False,
    )
    photo = photo_field()


class BareForm(forms.Form):
    """A roller of which nothing is known."""

    clean = yes_no(  # type: ignore[assignment]  # a field, which the form keeps apart from its method
        "All round, under good light", "bare: no tape, no residue, clean", "something is on it"
    )


class FoundForm(forms.Form):
    """Tape that no record shows."""

    what = forms.CharField(
        label="What did you find, and where on the roller?", max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )
    photo = photo_field()


class VoidForm(forms.Form):
    """Why a taping is given up."""

    reason = forms.CharField(
        label="Why is this taping given up?", max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )


class ConfirmForm(forms.Form):
    """Reported tape, seen by a second person."""

    pieces = forms.IntegerField(label="Pieces counted", min_value=0, max_value=200)


class SettleForm(forms.Form):
    """What is really there, where two persons recorded different things."""

    state = choice("On the roller I see", [("taped", "tape"), ("bare", "no tape: bare")])
    pieces = forms.IntegerField(label="Pieces counted", min_value=0, max_value=200, initial=0)
    what = forms.CharField(label="In a few words", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))


class HandOverForm(forms.Form):
    """Both stand at the roller; each signs."""

    pieces = forms.IntegerField(label="Pieces on the roller, counted together", min_value=0, max_value=200)
    lock_number = forms.CharField(label="Number of the lock of who takes over", max_length=20)
    lock_on = forms.BooleanField(label="That lock is on; the other comes off after it", required=False)
    tried = forms.BooleanField(label="Who takes over tried to start it and nothing moved", required=False)
    note = forms.CharField(label="What is left to do", max_length=300, required=False)
    taker_no = forms.CharField(label="Who takes over: staff number", max_length=20)
    taker_secret = forms.CharField(
        label="Who takes over: own password", widget=forms.PasswordInput(attrs={"autocomplete": "off"}), strip=False
    )
    secret = forms.CharField(
        label="Your password, again", widget=forms.PasswordInput(attrs={"autocomplete": "off"}), strip=False
    )


class ReportForm(forms.Form):
    """What was done earlier: on paper, or while no record could be made."""

    kind = choice("What was done?", KINDS)
    done_at = forms.DateTimeField(
        label="When was it done? (plant time)",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
    )
    done_by = forms.CharField(label="Staff number of who did it", max_length=20, required=False, help_text="If not you")
    late_reason = forms.CharField(label="Why is it recorded only now?", max_length=300, required=False)
    pieces = forms.IntegerField(label="Pieces: put on, taken off, or seen", min_value=0, max_value=200, initial=0)
    reel = forms.CharField(label="Label of the reel", max_length=20, required=False)
    lock_number = forms.CharField(label="Number of the lock, as written down", max_length=20, required=False)
    agent = forms.CharField(label="Cleaning agent", max_length=80, required=False)
    result = forms.ChoiceField(label="If it was looked at: how was it?", choices=RESULTS, required=False)
    defects = forms.MultipleChoiceField(
        label="Seen then", choices=DEFECTS, widget=forms.CheckboxSelectMultiple, required=False
    )
    note = forms.CharField(label="What the sheet says besides", max_length=300, required=False)


class FoundPieceForm(SecondPerson):
    """A missing piece turned up."""

    where = forms.CharField(label="Where was it found?", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))
    photo = photo_field()
    bag = forms.CharField(label="Label of the bag it goes into", max_length=20, required=False)
    field_order = ["where", "photo", "bag", "second_no", "second_secret"]

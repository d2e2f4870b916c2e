"""Shapes of what the pages of the store ask for."""

from typing import Any

from django import forms

from plant.web.forms import FigureForm, Sections, day_field
from plant.web.quantities import stored
from rollers.forms.signing import SecretForm
from rollers.models import TapeStock
from rollers.rules_store import CountRow


def stock_choices() -> list[tuple[str, str]]:
    """Tapes to choose from."""
    return [(stock.code, f"{stock.code}, {stock.name}") for stock in TapeStock.objects.all()]


class LengthForm(FigureForm):
    """A form with one length in metres."""

    def metres(self, name: str = "length_m") -> float | None:
        """The typed length in metres; none where nothing was typed."""
        typed = self.typed.get(name)
        return stored(name, typed)[0] if typed else None


class ReceiveForm(LengthForm):
    """A delivery of one lot."""

    figures = {"length_m": "Length of each reel"}
    needed = frozenset({"length_m"})
    stock = forms.ChoiceField(label="Tape stock")
    code = forms.CharField(
        label="Supplier's lot number",
        max_length=40,
        help_text="As printed on the reel. A reel without one is taken in as unlabelled.",
        error_messages={"required": "Type the lot number as it stands on the reel."},
    )
    supplier = forms.CharField(label="Supplier", max_length=80, required=False)
    made_on = day_field("Made on", required=False)
    use_by = day_field("Use by", required=False)
    count = forms.IntegerField(label="Reels of this length", min_value=1, max_value=200, initial=1)
    sections: Sections = (
        ("Delivery", ("stock", "code", "supplier")),
        ("Dates on the carton", ("made_on", "use_by")),
        ("Reels", ("count", "length_m")),
    )

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["stock"].choices = stock_choices()  # type: ignore[attr-defined]


class MoreReelsForm(LengthForm):
    """Reels of a lot that came later."""

    figures = {"length_m": "Length of each reel"}
    needed = frozenset({"length_m"})
    count = forms.IntegerField(label="Reels of this length", min_value=1, max_value=200, initial=1)
    sections: Sections = (("", ("count", "length_m")),)


class UnlabelledForm(LengthForm):
    """A reel that carries no label."""

    figures = {"length_m": "Length that is on it, about"}
    needed = frozenset({"length_m"})
    stock = forms.ChoiceField(label="What tape it looks like")
    where = forms.CharField(label="Where it was found", max_length=200)
    sections: Sections = (("", ("stock", "length_m", "where")),)

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["stock"].choices = stock_choices()  # type: ignore[attr-defined]


class MeasureLotForm(FigureForm):
    """The measured thickness of a lot."""

    figures = {"thickness_mm": "Measured thickness of one layer"}
    needed = frozenset({"thickness_mm"})
    helps = {"thickness_mm": "Mean of five places, on a flat glass, without pressing the adhesive."}


class ReleaseLotForm(SecretForm):
    """The release of a lot; the second person signs where no QA does."""

    reason = forms.CharField(
        label="Why the hold ends", max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    other_staff_no = forms.CharField(label="Staff number of the second person", max_length=20, required=False)
    other_secret = forms.CharField(
        label="Password of the second person",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, held: bool, two: bool, **kwargs: Any):
        super().__init__(*args, **kwargs)
        if not held:
            del self.fields["reason"]
        if not two:
            del self.fields["other_staff_no"]
            del self.fields["other_secret"]


class ReasonedForm(forms.Form):
    """One sentence that says why."""

    reason = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))


class RecallForm(forms.Form):
    """A recall: why, and whether it contaminates. Nothing is chosen beforehand."""

    reason = forms.CharField(
        label="Why, and who told it",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="It goes to every line concerned and on the recall's page.",
    )
    contaminating = forms.TypedChoiceField(
        label="Does the tape contaminate the product?",
        choices=[
            ("yes", "Yes, or not known: food and medical lines stop now"),
            ("no", "No: food and medical lines stop at the end of the current roll"),
        ],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one. Where nobody knows, choose yes."},
    )


class SignedReasonForm(SecretForm):
    """One sentence, signed."""

    reason = forms.CharField(label="The cause, in a sentence", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))
    field_order = ["reason", "secret"]


class IssueForm(LengthForm):
    """A reel given out to a person for a room."""

    figures = {"length_m": "Length the job needs"}
    helps = {"length_m": "Where it is for one job; five in a hundred are added for the look at the reel."}
    room = forms.ChoiceField(label="For room")
    to = forms.ChoiceField(label="To")
    reason = forms.CharField(label="Note", max_length=300, required=False)
    sections: Sections = (("", ("room", "to", "length_m", "reason")),)

    def __init__(self, *args: Any, rooms: list[tuple[str, str]], people: list[tuple[str, str]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["room"].choices = rooms  # type: ignore[attr-defined]
        self.fields["to"].choices = people  # type: ignore[attr-defined]


class BackForm(forms.Form):
    """A reel or a knife comes back."""

    reason = forms.CharField(label="Note", max_length=300, required=False)


class ScrapForm(LengthForm):
    """Tape that is thrown away; empty: all that is left."""

    figures = {"length_m": "Length scrapped"}
    helps = {"length_m": "Leave it empty to scrap all that is left."}
    reason = forms.CharField(label="Why, and where it went", max_length=300)
    sections: Sections = (("", ("length_m", "reason")),)


class CountReelForm(LengthForm):
    """What is really on a reel."""

    figures = {"length_m": "Length on the reel"}
    needed = frozenset({"length_m"})
    reason = forms.CharField(label="How it was counted", max_length=300, help_text="By weight, by diameter, unwound.")
    sections: Sections = (("", ("length_m", "reason")),)


class KnifeForm(forms.Form):
    """A new knife."""

    number = forms.CharField(label="Number on the knife", max_length=20)
    snap_off = forms.BooleanField(label="It has a snap-off blade", required=False)


class KnifeOutForm(forms.Form):
    """A knife goes out."""

    room = forms.ChoiceField(label="To room")

    def __init__(self, *args: Any, rooms: list[tuple[str, str]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["room"].choices = rooms  # type: ignore[attr-defined]


class KnifeBackForm(forms.Form):
    """A knife comes back: looked at."""

    whole = forms.TypedChoiceField(
        label="The blade is",
        choices=[("yes", "whole"), ("no", "broken, a part is missing")],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Look at the blade and choose."},
    )
    note = forms.CharField(label="Note", max_length=300, required=False)


class CloseBagForm(forms.Form):
    """Pieces counted in a bag."""

    counted = forms.IntegerField(label="Pieces counted in the bag", min_value=0, max_value=9999)


class CountForm(forms.Form):
    """A count without the ledger's figures beside it: what is typed is what was seen."""

    def __init__(self, *args: Any, rows: list[CountRow], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.keys = {f"row-{number}": row.key for number, row in enumerate(rows)}
        for number, row in enumerate(rows):
            empty = f"{row.label}: type what you counted; 0 where there is none."
            kind = {"length": forms.FloatField, "pieces": forms.IntegerField, "present": forms.IntegerField}[row.kind]
            self.fields[f"row-{number}"] = kind(
                label=row.label,
                min_value=0,
                max_value=1 if row.kind == "present" else 100000,
                help_text="1 if it is there, 0 if not." if row.kind == "present" else "",
                error_messages={"required": empty, "invalid": empty},
            )
        self.fields["cause"] = forms.CharField(label="What you noticed", max_length=300, required=False)

    def counted(self) -> dict[str, float]:
        """What was counted, by the ledger's keys."""
        return {key: float(self.cleaned_data[name]) for name, key in self.keys.items()}


class StartCountForm(forms.Form):
    """What to count."""

    room = forms.ChoiceField(label="Room")
    scope = forms.ChoiceField(
        label="What",
        choices=[
            ("room", "Everything in the room: tape, open bags, reels, knives"),
            ("shift", "The taped rollers, for this shift"),
        ],
        widget=forms.RadioSelect,
        initial="room",
    )

    def __init__(self, *args: Any, rooms: list[tuple[str, str]], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["room"].choices = rooms  # type: ignore[attr-defined]


class FindingsForm(forms.Form):
    """What a drill found on the floor."""

    found = forms.CharField(label="What was found", max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))

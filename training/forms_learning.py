"""Shapes of what is typed about classes, tests, practice and practicals."""

from typing import Any

from django import forms

from plant.floor.models import RoomKind
from plant.people.forms import Secret, reason
from plant.people.models import Person
from plant.web.forms import moment_field
from training.content_files import ENGLISH
from training.models import JobDone, Mark, Module, Practice, Skill

OWN_SECRET = "Your password again"  # noqa: S105  (the label of the field)


class PersonChoice(forms.ModelChoiceField):
    """One person, with the staff number, for two may have one name."""

    def label_from_instance(self, obj: Person) -> str:
        return f"{obj.name} ({obj.staff_no})"


class PersonChoices(forms.ModelMultipleChoiceField):
    """Several persons."""

    def label_from_instance(self, obj: Person) -> str:
        return f"{obj.name} ({obj.staff_no})"


class ModuleChoices(forms.ModelMultipleChoiceField):
    """Modules by number and title."""

    def label_from_instance(self, obj: Module) -> str:
        english = [each for each in obj.versions.all() if each.lang == ENGLISH]
        newest = max(english, key=lambda each: each.number, default=None)
        return f"{obj.number}. {newest.title if newest else obj.slug}"


class JobChoice(forms.ModelChoiceField):
    """A job from the record of tape."""

    def label_from_instance(self, obj: JobDone) -> str:
        return f"{obj.at:%d %b %Y %H:%M} UTC, {obj.get_kind_display()}: {obj.subject}"


class Signed(forms.Form):
    """One's own secret and no more."""

    secret = Secret(label=OWN_SECRET, autocomplete="current-password")


class Oral(forms.Form):
    """Who reads and who watches a test read aloud."""

    reader = PersonChoice(Person.objects.none(), label="Reader", help_text="Reads each question as it stands.")
    witness = PersonChoice(
        Person.objects.none(), label="Witness", help_text="Sees that each answer is ticked as given."
    )

    def __init__(self, *args: Any, people: Any, **more: Any):
        super().__init__(*args, **more)
        for name in ("reader", "witness"):
            self.fields[name].queryset = people  # type: ignore[attr-defined]


class OralSigned(forms.Form):
    """Both sign at the end."""

    reader_secret = Secret(label="Password of the reader", autocomplete="off")
    witness_secret = Secret(label="Password of the witness", autocomplete="off")


class PlanSession(forms.Form):
    """A class to come."""

    skill = forms.ModelChoiceField(Skill.objects.all(), label="For", to_field_name="code", empty_label="Choose a skill")
    title = forms.CharField(label="Title", max_length=120, help_text="What is taught, for example: Hands-on taping.")
    starts_at = moment_field("Begins")
    ends_at = moment_field("Ends")
    place = forms.CharField(label="Place", max_length=80)
    trainer = PersonChoice(Person.objects.none(), label="Trainer", help_text="With valid Teach and the level taught.")
    modules = ModuleChoices(
        Module.objects.prefetch_related("versions"),
        label="Modules",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    invited = PersonChoices(Person.objects.none(), label="Who comes", widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, people: Any, trainers: Any, **more: Any):
        super().__init__(*args, **more)
        self.fields["invited"].queryset = people  # type: ignore[attr-defined]
        self.fields["trainer"].queryset = trainers  # type: ignore[attr-defined]


class Attend(forms.Form):
    """How long one person was there."""

    minutes = forms.IntegerField(label="Minutes present", min_value=0, max_value=720)
    note = forms.CharField(label="Note", max_length=300, required=False)


class Cancel(forms.Form):
    """Why a class is called off."""

    reason = reason("Who was invited reads it.", longest=300)


class Supervised(forms.Form):
    """Practice to sign for."""

    skill = forms.ModelChoiceField(Skill.objects.all(), label="Practice for", to_field_name="code", empty_label=None)
    kind = forms.ChoiceField(label="Kind", choices=Practice.Kind.choices)
    job = JobChoice(
        JobDone.objects.none(),
        label="Job on record",
        required=False,
        help_text="Where the tape record already tells of it beside you.",
    )
    place = forms.CharField(label="Roller, line or product", max_length=40)
    room_kind = forms.ChoiceField(label="Kind of room", choices=RoomKind.choices)
    done_at = moment_field("Done at")
    outcome = forms.ChoiceField(label="How it went", choices=Practice.Outcome.choices, widget=forms.RadioSelect)
    note = forms.CharField(
        label="What was done",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For the practice log.",
    )
    secret = Secret(label=OWN_SECRET, autocomplete="current-password")

    def __init__(self, *args: Any, jobs: Any, **more: Any):
        super().__init__(*args, **more)
        self.fields["job"].queryset = jobs  # type: ignore[attr-defined]


class Coached(forms.Form):
    """What a trainer went through with a person."""

    note = forms.CharField(
        label="What you went through",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Mistakes and how they were explained.",
    )


class BeginPractical(forms.Form):
    """Which practical, and where its roller may be drawn."""

    kind = forms.ChoiceField(label="Practical", choices=())
    line = forms.ChoiceField(label="Draw a roller from", choices=(), required=False)

    def __init__(self, *args: Any, kinds: list[tuple[str, str]], lines: list[tuple[str, str]], **more: Any):
        super().__init__(*args, **more)
        self.fields["kind"].choices = kinds  # type: ignore[attr-defined]
        self.fields["line"].choices = [("", "all lines"), *lines]  # type: ignore[attr-defined]


class MarkStep(forms.Form):
    """One step as it was seen."""

    mark = forms.ChoiceField(choices=Mark.choices)
    note = forms.CharField(label="Note", max_length=300, required=False)


class EndPractical(forms.Form):
    """The assessor signs."""

    note = forms.CharField(
        label="To the person", max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    secret = Secret(label=OWN_SECRET, autocomplete="current-password")


class BreakOff(forms.Form):
    """It could not go on."""

    reason = reason("It counts as no failure of the person.", longest=300)
    secret = Secret(label=OWN_SECRET, autocomplete="current-password")


class CandidateSigns(forms.Form):
    """The person assessed signs."""

    remark = forms.CharField(
        label="Your remark",
        max_length=500,
        required=False,
        help_text="You may disagree here; your signature says that you have seen it.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    secret = Secret(label="Password of the person assessed", autocomplete="off")


class MarkAgain(forms.Form):
    """Every step marked once more, by another assessor."""

    kind = forms.ChoiceField(
        label="How", choices=[("second", "from the evidence, later"), ("joint", "beside the first, both present")]
    )

    def __init__(self, *args: Any, steps: list[str], **more: Any):
        super().__init__(*args, **more)
        for number, text in enumerate(steps, start=1):
            self.fields[f"step{number}"] = forms.ChoiceField(
                label=f"{number}. {text}", choices=Mark.choices, widget=forms.RadioSelect
            )
        self.fields["secret"] = Secret(label=OWN_SECRET, autocomplete="current-password")

    def marks(self) -> dict[int, str]:
        """The marks by step."""
        given = self.cleaned_data
        return {int(name.removeprefix("step")): mark for name, mark in given.items() if name.startswith("step")}


class Retire(forms.Form):
    """Why a question is drawn no more."""

    reason = reason("Who reads the statistics later wants to know.", longest=300)

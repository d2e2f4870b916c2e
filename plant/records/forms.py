"""Shapes of what is asked of the trail."""

from typing import Any

from django import forms

from plant.floor.models import Room
from plant.people.forms import Secret
from plant.records.models import RetentionRule
from plant.records.queries import Filter
from plant.web.forms import day_field


class Look(forms.Form):
    """What is looked for in the trail."""

    words = forms.CharField(label="Words", required=False, max_length=80, widget=forms.TextInput(attrs={"size": 16}))
    person = forms.CharField(
        label="Staff number", required=False, max_length=20, widget=forms.TextInput(attrs={"size": 6})
    )
    action = forms.ChoiceField(label="Act", required=False)
    stream = forms.CharField(label="Stream", required=False, max_length=60, help_text="For example line:A.")
    kind = forms.CharField(label="Kind of record", required=False, max_length=40)
    key = forms.CharField(label="Record id", required=False, max_length=60)
    first = day_field("From day", required=False)
    last = day_field("To day", required=False)

    def __init__(self, *args: Any, actions: list[str], **more: Any):
        super().__init__(*args, **more)
        known = [(action, action.replace("-", " ")) for action in actions]
        self.fields["action"].choices = [("", "any"), *known]  # type: ignore[attr-defined]

    def wanted(self) -> Filter:
        """The filter; of a form with mistakes, what can be read of it."""
        given = getattr(self, "cleaned_data", {})
        return Filter(**{name: given[name] for name in self.fields if given.get(name)})


class Review(forms.Form):
    """The end of a review of the trail."""

    first = day_field("From day", help_text="In plant time; the stretch follows the last review.")
    last = day_field("To day", help_text="The whole day; today means up to now.")
    remarks = forms.CharField(
        label="What you looked at, and what you found",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="For example: overrides and late entries of the week, all with reasons; one asked back.",
    )
    secret = Secret(label="Your password again", autocomplete="current-password")


class Longer(forms.Form):
    """Keeping something longer than so far."""

    matter = forms.ChoiceField(label="What", choices=RetentionRule.Matter)
    room = forms.ModelChoiceField(
        label="Room",
        queryset=Room.objects.order_by("code"),
        required=False,
        to_field_name="code",
        empty_label="the whole plant",
    )
    years = forms.IntegerField(label="Years", min_value=1, max_value=100)
    product_life_years = forms.IntegerField(
        label="Longest product life, years",
        min_value=1,
        max_value=99,
        required=False,
        help_text="Medical rooms: records are kept for this and one year more, if that is longer.",
    )
    reason = forms.CharField(
        label="Reason", max_length=500, widget=forms.Textarea(attrs={"rows": 2}), help_text="Law, customer, product."
    )
    secret = Secret(label="Your password again", autocomplete="current-password")


class Order(forms.Form):
    """Removing what was exported."""

    kept_where = forms.CharField(
        label="Where the exported file is kept", max_length=200, help_text="Nothing is removed without it."
    )
    reason = forms.CharField(label="Reason", max_length=500, widget=forms.Textarea(attrs={"rows": 2}))
    secret = Secret(label="Your password again", autocomplete="current-password")

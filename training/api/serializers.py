"""Shapes of the API of training."""

from typing import Any

from rest_framework import serializers

from plant.floor.models import RoomKind
from training.models import Due, Skill
from training.queries import Standing


class MayQuery(serializers.Serializer):
    """Who, which work, in which kind of room."""

    person = serializers.CharField(max_length=20, help_text="Staff number")
    skill = serializers.SlugField(max_length=20, help_text="Code of the skill: apply, check, size ...")
    room = serializers.ChoiceField(RoomKind.choices, default=RoomKind.GENERAL.value)
    hot = serializers.BooleanField(default=False, help_text="On a hot roller")

    def validate_skill(self, code: str) -> str:
        """A skill that there is."""
        if not Skill.objects.filter(code=code).exists():
            known = ", ".join(Skill.objects.values_list("code", flat=True))
            raise serializers.ValidationError(f"There is no skill {code!r}. Use one of {known}.")
        return code


class MaySerializer(serializers.Serializer):
    """Yes or no, and why; no scores and no history."""

    may = serializers.BooleanField()
    code = serializers.CharField()
    sentence = serializers.CharField()
    certificate = serializers.CharField(allow_null=True)
    valid_to = serializers.DateField(allow_null=True)
    at = serializers.DateTimeField()

    def to_representation(self, asked: Any) -> dict[str, Any]:
        """A standing and its moment as plain values."""
        found: Standing = asked["standing"]
        held = found.certificate
        return {
            "may": found.ok,
            "code": found.code,
            "sentence": found.sentence,
            "certificate": held.number if held else None,
            "valid_to": held.valid_to.isoformat() if held else None,
            "at": asked["at"].isoformat(),
        }


class DuesQuery(serializers.Serializer):
    """Which dues; everything open where nothing is chosen."""

    person = serializers.CharField(max_length=20, required=False, help_text="Staff number")
    skill = serializers.SlugField(max_length=20, required=False)
    kind = serializers.ChoiceField(Due.Kind.choices, required=False)
    before = serializers.DateField(required=False, help_text="Due on or before this day")


class DueSerializer(serializers.ModelSerializer):
    """Something that is due."""

    person = serializers.CharField(source="person.staff_no")
    name = serializers.CharField(source="person.name")
    skill = serializers.CharField(source="skill.code")
    certificate = serializers.CharField(source="certificate.number", allow_null=True, default=None)

    class Meta:
        model = Due
        fields = ["id", "person", "name", "skill", "kind", "due_on", "reason", "rule", "rule_version", "certificate"]

"""The shape of a refusal, for the description of the API."""

from rest_framework import serializers


class RefusalSerializer(serializers.Serializer):
    """Why not, and who can help."""

    code = serializers.CharField()
    sentence = serializers.CharField()
    field = serializers.CharField(allow_blank=True)
    details = serializers.ListField(child=serializers.CharField())

"""Shapes of the API: what is taken and what is given. Units stand in the names."""

from typing import Any

from rest_framework import serializers

from plant.floor.models import Run
from rollers.models import RecipeVersion
from rollers.readiness import PositionReadiness, Readiness


class FindingSerializer(serializers.Serializer):
    """One thing about one position; only a block stops the release."""

    code = serializers.CharField()
    weight = serializers.ChoiceField(["block", "caution", "notice"])
    sentence = serializers.CharField()
    who = serializers.CharField(allow_blank=True)


class PositionReadinessSerializer(serializers.Serializer):
    """One position of the path."""

    position = serializers.CharField()
    body = serializers.CharField(allow_null=True)
    word = serializers.ChoiceField(["ready", "caution", "blocked"])
    action = serializers.ChoiceField(["keep", "apply", "remove", "change"])
    must_be = serializers.CharField()
    on = serializers.CharField()
    verdict = serializers.CharField(allow_null=True)
    findings = FindingSerializer(many=True)

    def to_representation(self, row: PositionReadiness) -> dict[str, Any]:
        """A position as plain values."""
        return {
            "position": row.position.code,
            "body": row.body.serial if row.body else None,
            "word": row.word,
            "action": row.action,
            "must_be": row.required.label or row.required.kind,
            "on": row.on.label if row.on.state == "taped" else row.on.state,
            "verdict": row.result["verdict"] if row.result else None,
            "findings": FindingSerializer(row.findings, many=True).data,
        }


class ReadinessSerializer(serializers.Serializer):
    """May this line run this product now?"""

    line = serializers.CharField()
    path = serializers.CharField()
    product = serializers.CharField()
    may_run = serializers.BooleanField()
    blocks = FindingSerializer(many=True)
    positions = PositionReadinessSerializer(many=True)
    off_path = PositionReadinessSerializer(many=True)
    at = serializers.DateTimeField()

    def to_representation(self, found: Readiness) -> dict[str, Any]:
        """The whole answer as plain values."""
        return {
            "line": found.path.line.code,
            "path": str(found.path),
            "product": str(found.product_version),
            "may_run": found.may_run,
            "blocks": FindingSerializer(found.blocks, many=True).data,
            "positions": PositionReadinessSerializer(found.positions, many=True).data,
            "off_path": PositionReadinessSerializer(found.others, many=True).data,
            "at": found.at.isoformat(),
        }


class ReadinessQuery(serializers.Serializer):
    """Which product, on which path, at which set-points (the product's own where left out)."""

    product = serializers.CharField(help_text="Product code")
    path = serializers.CharField(required=False, help_text="Path name; may be left out where the line has one path")
    tension_n_per_m = serializers.FloatField(required=False, min_value=0.001)
    speed_m_per_min = serializers.FloatField(required=False, min_value=0.001)


class RunOrder(ReadinessQuery):
    """A run to plan."""

    starts_at = serializers.DateTimeField()


class SecretSerializer(serializers.Serializer):
    """The own secret, typed again for this one signature."""

    secret = serializers.CharField(trim_whitespace=False)


class RunSerializer(serializers.ModelSerializer):
    """A run."""

    line = serializers.CharField(source="line.code")
    path = serializers.CharField(source="path.name")
    product = serializers.CharField(source="product_version.product.code")

    class Meta:
        model = Run
        fields = ["id", "line", "path", "product", "state", "tension_n_per_m", "speed_m_per_min", "starts_at"]


class RecipeSerializer(serializers.Serializer):
    """A recipe version in force. Band edges from the roller centre."""

    position = serializers.CharField(source="recipe.position.code")
    title = serializers.CharField(source="recipe.title")
    version = serializers.IntegerField(source="number")
    state = serializers.CharField()
    stock = serializers.CharField(source="stock.code", allow_null=True, default=None)
    bands = serializers.SerializerMethodField()
    products = serializers.SerializerMethodField()

    def get_bands(self, version: RecipeVersion) -> list[dict[str, Any]]:
        """The bands; none means bare."""
        return [dict(band) for band in version.bands.values("end", "inner_mm", "outer_mm", "wraps")]

    def get_products(self, version: RecipeVersion) -> list[str]:
        """Codes of the products it serves."""
        return [row.product.code for row in version.products.select_related("product")]

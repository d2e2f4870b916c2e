"""The API of rollers: thin doors to the same queries and services as the screens."""

from typing import Any, cast

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import api_view
from rest_framework.request import Request
from rest_framework.response import Response

from calcs import sizing
from calcs.case import CaseError, parse_case
from calcs.verdict import check
from plant.api.serializers import RefusalSerializer
from plant.errors import NotFound, Refused
from plant.floor.models import Line, Plant, ProductVersion, WebPath
from plant.people.models import Person
from plant.people.services import confirm_secret
from rollers import access
from rollers.api.serializers import (
    ReadinessQuery,
    ReadinessSerializer,
    RecipeSerializer,
    RunOrder,
    RunSerializer,
    SecretSerializer,
)
from rollers.cases import SetPoints
from rollers.queries import recipes_in_force
from rollers.readiness import present_limits, readiness
from rollers.services.runs import plan_run, release_run

REFUSALS = {403: RefusalSerializer, 404: RefusalSerializer, 409: RefusalSerializer, 422: RefusalSerializer}
BAD = {400: RefusalSerializer} | REFUSALS


def _asked(line_code: str, asked: dict[str, Any]) -> tuple[WebPath, ProductVersion, SetPoints]:
    line = Line.objects.filter(code__iexact=line_code).first()
    if line is None:
        raise NotFound("line", line_code, "Check the code, or ask the shift supervisor.")
    paths = WebPath.objects.select_related("line").filter(line=line, in_use=True).order_by("name", "-version")
    path = paths.filter(name__iexact=asked["path"]).first() if asked.get("path") else paths.first()
    if path is None:
        raise NotFound("web path in use on this line", asked.get("path", line_code))
    version = ProductVersion.objects.filter(product__code__iexact=asked["product"], current=True).first()
    if version is None:
        raise NotFound("product", asked["product"], "Check the code, or ask the process engineer.")
    points = SetPoints(
        asked.get("tension_n_per_m", version.tension_set_n_per_m),
        asked.get("speed_m_per_min", version.speed_set_m_per_min),
    )
    return path, version, points


def _person(request: Request) -> Person:
    """Who asks; the permission class let nobody else through."""
    return cast(Person, request.user)


def _case(body: Any) -> Any:
    if not isinstance(body, dict):
        raise Refused("bad-input", "Send one JSON object: the case, with its parts web, state, roller, tape, bands.")
    try:
        return parse_case(body)
    except CaseError as trouble:
        raise Refused("bad-input", trouble.sentence, field=trouble.field) from None


@extend_schema(parameters=[ReadinessQuery], responses={200: ReadinessSerializer} | BAD)
@api_view(["GET"])
def line_readiness(request: Request, code: str) -> Response:
    """May this line run this product now? Every block by name."""
    query = ReadinessQuery(data=request.query_params)
    query.is_valid(raise_exception=True)
    path, version, points = _asked(code, query.validated_data)
    found = readiness(path, version, at=request.at, set_points=points)  # type: ignore[attr-defined]
    return Response(ReadinessSerializer(found).data)


@extend_schema(
    parameters=[OpenApiParameter("product", OpenApiTypes.STR, required=True, description="Product code")],
    responses={200: RecipeSerializer} | BAD,
)
@api_view(["GET"])
def recipe_in_force(request: Request, code: str) -> Response:
    """The recipe in force at a position for a product."""
    position = access.position_by_code(code)
    version = ProductVersion.objects.filter(
        product__code__iexact=request.query_params.get("product", ""), current=True
    ).first()
    if version is None:
        raise NotFound("product", request.query_params.get("product", ""), "Give ?product= with a product code.")
    row = recipes_in_force(version.product, [position]).get(position.pk)
    if row is None:
        help_with = "A product sheet may still say bare; ask for the readiness of the line."
        raise NotFound(f"recipe in force at {position} for", version.product.code, help_with)
    return Response(RecipeSerializer(row.version).data)


@extend_schema(request=OpenApiTypes.OBJECT, responses={200: OpenApiTypes.OBJECT} | BAD)
@api_view(["POST"])
def check_case(request: Request) -> Response:
    """Judge a case by the plant's limits: the answer of `python -m calcs check`."""
    return Response(check(_case(request.data), present_limits()).as_dict())


@extend_schema(request=OpenApiTypes.OBJECT, responses={200: OpenApiTypes.OBJECT} | BAD)
@api_view(["POST"])
def size_case(request: Request) -> Response:
    """Suggest wraps for a case: the answer of `python -m calcs size`."""
    try:
        return Response(sizing.suggest(_case(request.data), present_limits()).as_dict())
    except CaseError as trouble:
        raise Refused("bad-input", trouble.sentence, field=trouble.field) from None


@extend_schema(request=RunOrder, responses={201: RunSerializer} | BAD)
@api_view(["POST"])
def plan(request: Request, code: str) -> Response:
    """Plan a run on a line."""
    order = RunOrder(data=request.data)
    order.is_valid(raise_exception=True)
    path, version, points = _asked(code, order.validated_data)
    run = plan_run(
        path=path,
        version=version,
        tension_n_per_m=points.tension_n_per_m,
        speed_m_per_min=points.speed_m_per_min,
        starts_at=order.validated_data["starts_at"],
        by=_person(request),
        at=request.at,  # type: ignore[attr-defined]
    )
    return Response(RunSerializer(run).data, status=201)


@extend_schema(request=SecretSerializer, responses={200: RunSerializer} | BAD)
@api_view(["POST"])
def release(request: Request, pk: int) -> Response:
    """Release a planned run, signed with the own secret; refused with every block by name."""
    shape = SecretSerializer(data=request.data)
    shape.is_valid(raise_exception=True)
    run = access.run(pk)
    zone = Plant.objects.values_list("time_zone", flat=True).first() or "UTC"
    confirmation = confirm_secret(
        _person(request),
        shape.validated_data["secret"],
        at=request.at,  # type: ignore[attr-defined]
        time_zone=zone,
    )
    release_run(run, confirmation=confirmation)
    return Response(RunSerializer(access.run(pk)).data)

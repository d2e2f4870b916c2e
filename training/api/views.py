"""The API of training: the same questions as the screens ask."""

from typing import cast

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import api_view
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.serializers import RefusalSerializer
from plant.people.access import person_by_number, require_insider
from plant.people.models import Person
from training.api.serializers import DueSerializer, DuesQuery, MayQuery, MaySerializer
from training.queries import standing
from training.wall import open_dues

REFUSALS = {400: RefusalSerializer, 403: RefusalSerializer, 404: RefusalSerializer}
MOST = 500


@extend_schema(parameters=[MayQuery], responses={200: MaySerializer} | REFUSALS)
@api_view(["GET"])
def may(request: Request) -> Response:
    """May this person do this work, in a room of this kind, now? A no says why and who on this shift can."""
    at = request.at  # type: ignore[attr-defined]
    require_insider(cast(Person, request.user), at=at)
    query = MayQuery(data=request.query_params)
    query.is_valid(raise_exception=True)
    asked = query.validated_data
    found = standing(person_by_number(asked["person"]), asked["skill"], asked["room"], at, hot=asked["hot"])
    return Response(MaySerializer({"standing": found, "at": at}).data)


@extend_schema(parameters=[DuesQuery], responses={200: DueSerializer(many=True)} | REFUSALS)
@api_view(["GET"])
def dues(request: Request) -> Response:
    """What is due, the nearest first; at most 500."""
    require_insider(cast(Person, request.user), at=request.at)  # type: ignore[attr-defined]
    query = DuesQuery(data=request.query_params)
    query.is_valid(raise_exception=True)
    asked = query.validated_data
    found = open_dues(kind=asked.get("kind", ""), skill=asked.get("skill", "")).select_related("certificate")
    if "person" in asked:
        found = found.filter(person=person_by_number(asked["person"]))
    if "before" in asked:
        found = found.filter(due_on__lte=asked["before"])
    return Response(DueSerializer(found[:MOST], many=True).data)

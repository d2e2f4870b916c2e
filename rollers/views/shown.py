"""What the desk views share: the plant's clock in words, the person who signs, findings as rows of a page."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.urls import reverse

from plant.audit.models import Signature
from plant.audit.services import Confirmation
from plant.audit.services.signing import as_shown
from plant.floor.models import Plant
from plant.people.models import Person
from plant.people.queries import role_words
from plant.people.services import confirm_secret
from plant.web.svg import canvas
from rollers.rules import Finding


def plant_of(request: HttpRequest) -> Plant | None:
    """The plant, as the middleware read it for this request."""
    found: Plant | None = request.plant  # type: ignore[attr-defined]
    return found


def zone_of(request: HttpRequest) -> ZoneInfo:
    """The plant's clock."""
    plant = plant_of(request)
    return ZoneInfo(plant.time_zone if plant else "UTC")


def units_of(request: HttpRequest) -> str:
    """The system of units the plant types in."""
    plant = plant_of(request)
    return plant.units if plant else "si"


def moment_at(request: HttpRequest) -> datetime:
    """The moment of this request."""
    at: datetime = request.at  # type: ignore[attr-defined]
    return at


def person_of(request: HttpRequest) -> Person:
    """Who is signed in; every view of the desk asks for it."""
    person = request.user
    if not isinstance(person, Person):
        raise TypeError("a desk view was reached without a person")
    return person


def roles_held(request: HttpRequest) -> frozenset[str]:
    """The role codes of the person at this moment."""
    held: frozenset[str] = getattr(request, "roles", frozenset())
    return held


def roles_text(request: HttpRequest) -> str:
    """The roles as they are printed beside a signature."""
    return ", ".join(role_words(roles_held(request)))


def local_text(at: datetime | None, zone: ZoneInfo) -> str:
    """A moment in plant time; the offset tells the repeated hour of autumn apart."""
    if at is None:
        return ""
    local = at.astimezone(zone)
    offset = f"{local:%z}"
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M} (UTC{offset[:3]}:{offset[3:]})"


def brief_text(at: datetime | None, zone: ZoneInfo) -> str:
    """For what is near: without the year, and without the offset, which stands beside the plant time of each page."""
    if at is None:
        return ""
    local = at.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b, %H:%M}"


def confirm(request: HttpRequest, secret: str) -> Confirmation:
    """The person typed the own secret again. Before the act, outside its transaction: a failure stays counted."""
    zone = zone_of(request)
    return confirm_secret(person_of(request), secret, at=moment_at(request), time_zone=zone.key)


@dataclass(frozen=True)
class Said:
    """A finding as a row of the page."""

    sentence: str
    position: str = ""
    who: str = ""
    url: str = ""
    action: str = "Roller"


def roller_url(code: str) -> str:
    """The desk page of a roller position."""
    return reverse("rollers:position", args=[code])


def said(code: str, finding: Finding) -> Said:
    """A finding of a position: its code stands in front, so the sentence does not repeat it."""
    text = finding.sentence.removeprefix(f"{code}: ")
    if not code:
        return Said(text, who=finding.who)
    return Said(text[:1].upper() + text[1:], code, finding.who, roller_url(code), f"Open {code}")


def stop_words(count: int) -> str:
    """How many things stand in the way, as the pages say it."""
    return "1 thing stops it" if count == 1 else f"{count} things stop it"


def _figure(value: float | None, check: dict[str, Any]) -> str:
    """A figure of a check as the table shows it."""
    if value is None:
        return ""
    if check["unit"] == "1":
        return canvas.figure(value, 0 if check["id"] in ("wraps", "kind") else 2)
    return canvas.figure(value) + {"deg": "°"}.get(check["unit"], f" {check['unit']}")


def check_rows(result: dict[str, Any]) -> list[dict[str, Any]]:
    """The checks of an answer as rows of a table, figures rounded for reading."""
    return [
        {
            "title": check["title"],
            "verdict": check["verdict"],
            "sentence": check["sentence"],
            "missing": check["missing"] if check["verdict"] == "not evaluated" else "",
            "value": _figure(check["value"], check),
            "worst": _figure(check["worst"], check),
            "caution": _figure(check["caution"], check),
            "refused": _figure(check["limit"], check) if check["limit"] != check["caution"] else "",
            "limit_source": check["limit_source"],
            "formula": check["formula"],
        }
        for check in result["checks"]
    ]


def signed(rows: Iterable[Signature], content: dict[str, Any]) -> list[dict[str, Any]]:
    """Signatures, each compared with the content as it is now."""
    return [as_shown(row, content) for row in rows]

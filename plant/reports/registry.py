"""What can be printed, by name."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from plant.errors import NotFound
from plant.people.models import Person


@dataclass(frozen=True)
class Page:
    """One record ready to print: a template and its context, and the record as plain values for the attachment."""

    title: str
    template: str
    context: dict[str, Any]
    record: dict[str, Any]
    as_of: datetime


Builder = Callable[[str, datetime], Page]
Door = Callable[[Person, str, datetime], None]
REPORTS: dict[str, Builder] = {}
DOORS: dict[str, Door] = {}


def report(kind: str, *, door: Door | None = None) -> Callable[[Builder], Builder]:
    """Register `build(subject_id, at) -> Page` under a kind.

    `door(person, subject_id, at)` raises Forbidden for who may neither print it nor read what another printed.
    """

    def register(build: Builder) -> Builder:
        if kind in REPORTS:
            raise ValueError(f"two reports are called {kind}")
        REPORTS[kind] = build
        if door is not None:
            DOORS[kind] = door
        return build

    return register


def require_report(person: Person, kind: str, subject_id: str, at: datetime) -> None:
    """Let pass whoever the kind of report lets pass."""
    if kind in DOORS:
        DOORS[kind](person, subject_id, at)


def number_in(subject_id: str) -> int:
    """The number of a record in an address; none that there is, for anything else."""
    return int(subject_id) if re.fullmatch(r"[0-9]{1,18}", subject_id) else 0


def builder_of(kind: str) -> Builder:
    """The builder of a kind."""
    if kind not in REPORTS:
        raise NotFound("kind of report", kind, "Open the record and print from there.")
    return REPORTS[kind]

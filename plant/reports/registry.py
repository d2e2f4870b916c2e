"""What can be printed, by name."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from plant.errors import NotFound


@dataclass(frozen=True)
class Page:
    """One record ready to print: a template and its context, and the record as plain values for the attachment."""

    title: str
    template: str
    context: dict[str, Any]
    record: dict[str, Any]
    as_of: datetime


Builder = Callable[[str, datetime], Page]
REPORTS: dict[str, Builder] = {}


def report(kind: str) -> Callable[[Builder], Builder]:
    """Register `build(subject_id, at) -> Page` under a kind."""

    def register(build: Builder) -> Builder:
        if kind in REPORTS:
            raise ValueError(f"two reports are called {kind}")
        REPORTS[kind] = build
        return build

    return register


def number_in(subject_id: str) -> int:
    """The number of a record in an address; none that there is, for anything else."""
    return int(subject_id) if re.fullmatch(r"[0-9]{1,18}", subject_id) else 0


def builder_of(kind: str) -> Builder:
    """The builder of a kind."""
    if kind not in REPORTS:
        raise NotFound("kind of report", kind, "Open the record and print from there.")
    return REPORTS[kind]

"""Taking rows in: each row in its own savepoint, so that one file tells all its bad rows at once."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from plant.errors import Forbidden, Refused
from plant.people.models import Person
from rollers.services.files.columns import BadRow, Column, Row


class NotAllowed(Exception):
    """The person's roles do not allow rows of this kind; the rest of the file need not be looked at."""


@dataclass
class Taking:
    """What comes of the rows of one file."""

    kind: "Kind"
    by: Person
    at: datetime
    zone: ZoneInfo
    append: bool = False
    made: list[tuple[int, str]] = field(default_factory=list)
    notices: list[tuple[int, str]] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)
    known: dict[tuple[str, str], Any] = field(default_factory=dict)
    _seen: dict[tuple[str, str], int] = field(default_factory=dict)

    @contextmanager
    def row(self, row: Row) -> Iterator[None]:
        """Whatever is refused inside becomes a bad row; what was written inside is undone."""
        try:
            with transaction.atomic():
                yield
        except Refused as refusal:
            self.bad.append(BadRow(row.line, self.column_of(refusal.field), refusal.sentence))
            if isinstance(refusal, Forbidden):
                raise NotAllowed from None
        except IntegrityError as trouble:
            sentence = f"The database refuses this row ({trouble}). Compare it with what is recorded already."
            self.bad.append(BadRow(row.line, "", sentence))

    def column_of(self, field_name: str) -> str:
        """The column of a field that a service refused."""
        for column in self.kind.columns:
            if field_name and field_name in (column.field, column.ratio, column.name):
                return column.name
        return self.kind.aliases.get(field_name, "")

    def fetched(self, door: Callable[[str], Any], code: str) -> Any:
        """What a door gives for a code, asked once per file."""
        key = (door.__name__, code.lower())
        if key not in self.known:
            self.known[key] = door(code)
        return self.known[key]

    def once(self, row: Row, column: str, value: str, what: str) -> None:
        """Refuse a key that came before in this file.

        Raises
        ------
        Refused
            Naming the other line.
        """
        other = self._seen.setdefault((column, value.lower()), row.line)
        if other != row.line:
            sentence = f"{what} {value} stands in line {other} already. Keep one of the two rows."
            raise Refused("row-twice", sentence, field=column)


@dataclass(frozen=True)
class Asked:
    """What an export is asked for."""

    filters: dict[str, str]
    zone: ZoneInfo
    at: datetime


@dataclass(frozen=True)
class Kind:
    """A kind of file: its columns, how rows are taken in, how they are written, and an example."""

    code: str
    title: str
    about: str
    columns: tuple[Column, ...]
    take: Callable[[list[Row], Taking], None]
    give: Callable[[Asked], Iterator[dict[str, str]]]
    example: tuple[dict[str, Any], ...]
    filters: tuple[str, ...] = ()
    aliases: Mapping[str, str] = field(default_factory=dict)
    readers: tuple[str, ...] = ()

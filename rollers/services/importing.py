"""Taking in a file: first looked at without keeping anything, then all of it or nothing."""

import hashlib
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.queries import plant_zone, the_plant
from plant.people.models import Person
from rollers.models import ImportBatch
from rollers.services.files.columns import BadRow, read_row
from rollers.services.files.reading import RawRow, Table, table_of
from rollers.services.files.taking import Kind, NotAllowed, Taking

SHOWN = 200


@dataclass(frozen=True)
class Report:
    """What a file would make, and what is wrong with it."""

    rows: int
    digest: str
    made: list[tuple[int, str]]
    notices: list[tuple[int, str]]
    bad: list[BadRow]
    conversions: dict[int, list[str]] = field(default_factory=dict)

    @property
    def is_good(self) -> bool:
        return not self.bad

    @property
    def made_shown(self) -> list[tuple[int, tuple[str, list[str]]]]:
        """The first rows with what would be made and converted, for a page."""
        return [(line, (said, self.conversions.get(line, []))) for line, said in self.made[:SHOWN]]

    @property
    def bad_shown(self) -> list[BadRow]:
        """The first things to mend, for a page."""
        return self.bad[:SHOWN]

    def refusal(self) -> Refused:
        """All bad rows in one refusal."""
        sentence = f"{len(self.bad)} rows cannot be taken, so nothing was. Mend the file and send it again."
        lines = [f"Line {b.line}{f', {b.column}' if b.column else ''}: {b.reason}" for b in self.bad]
        return Refused("bad-rows", sentence, field="file", details=lines)


def _taken(kind: Kind, table: Table, by: Person, at: datetime, *, digest: str, append: bool = False) -> Report:
    """Read every row and call the same services as the screens, inside the caller's transaction."""
    zone = plant_zone()
    rows, bad = [], [BadRow(line, "", reason) for line, reason in table.problems]
    for raw in table.rows:
        row, problems = read_row(raw.line, raw.cells, kind.columns, semicolons=table.semicolons, zone=zone)
        bad += problems
        rows += [] if problems else [row]
    taking = Taking(kind=kind, by=by, at=at, zone=zone, bad=bad, append=append)
    try:
        kind.take(rows, taking)
    except NotAllowed:
        taking.notices.append((0, "The rows after this one were not looked at."))
    return Report(
        rows=len(table.rows) + len(table.problems),
        digest=digest,
        made=taking.made,
        notices=taking.notices,
        bad=sorted(taking.bad, key=lambda problem: problem.line),
        conversions={row.line: row.conversions for row in rows if row.conversions},
    )


def examine(kind: Kind, content: bytes, *, by: Person, at: datetime) -> Report:
    """Look at a file as if it were taken in; nothing is kept.

    Raises
    ------
    Refused
        When the file as a whole cannot be read.
    """
    the_plant()
    table = table_of(content, kind.columns)
    with transaction.atomic():
        report = _taken(kind, table, by, at, digest=hashlib.sha256(content).hexdigest())
        transaction.set_rollback(True)
    return report


def examine_rows(kind: Kind, rows: list[RawRow], *, by: Person, at: datetime) -> Report:
    """The same for rows typed into a table on a page; they may go on with a path that is there."""
    the_plant()
    with transaction.atomic():
        report = _taken(kind, Table(rows, False, []), by, at, digest="", append=True)
        transaction.set_rollback(True)
    return report


@transaction.atomic
def take_rows(kind: Kind, rows: list[RawRow], *, by: Person, at: datetime) -> Report:
    """Enter rows typed into a table on a page, all of them or nothing.

    Raises
    ------
    Refused
        With every bad row in its details.
    """
    report = _taken(kind, Table(rows, False, []), by, at, digest="", append=True)
    if not report.is_good:
        raise report.refusal()
    record(
        stream="imports",
        action="enter-table",
        subject=the_plant(),
        sentence=f"{by.name} entered {report.rows} rows of {kind.title.lower()} in a table",
        by=by,
        at=at,
        facts={"kind": kind.code, "made": [sentence for _, sentence in report.made]},
    )
    return report


@transaction.atomic
def take_in(kind: Kind, content: bytes, *, file_name: str, by: Person, at: datetime) -> ImportBatch:
    """Take a file in, all of it or nothing.

    Raises
    ------
    Refused
        With every bad row in its details.
    """
    the_plant()
    table, digest = table_of(content, kind.columns), hashlib.sha256(content).hexdigest()
    report = _taken(kind, table, by, at, digest=digest)
    if not report.is_good:
        raise report.refusal()
    batch = ImportBatch.objects.create(
        kind=kind.code,
        file_name=file_name.replace("\0", "")[:200],
        digest=report.digest,
        rows=report.rows,
        at=at,
        by=by,
    )
    record(
        stream="imports",
        action="import-file",
        subject=batch,
        sentence=f"{by.name} took in {report.rows} rows of {kind.title.lower()} from {batch.file_name}",
        by=by,
        at=at,
        facts={"digest": report.digest, "rows": report.rows, "made": len(report.made)},
    )
    return batch

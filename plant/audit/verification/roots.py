"""Daily roots against the events, and against a file with roots that was kept elsewhere."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from plant.audit.canonical import ZERO
from plant.audit.leaves import Head, events_root, header_leaf, tree_of
from plant.audit.merkle import root_of
from plant.audit.models import DailyRoot, Event, RootHead
from plant.audit.verification.registry import Misfit
from plant.errors import Refused


@dataclass(frozen=True)
class Rooted:
    """A root with what it was made of, from the database or from a file."""

    date: str
    header: str
    size: int
    root: str
    previous_root: str
    grown: tuple[Head, ...]


def stored_roots() -> Iterator[Rooted]:
    """The roots of this installation, the oldest first."""
    heads = RootHead.objects.order_by("root__date", "stream")
    rows = heads.values_list("root_id", "stream", "first", "seq", "hash", "events_root").iterator()
    grown = {key: tuple(Head(*row[1:]) for row in group) for key, group in groupby(rows, key=lambda row: row[0])}
    for row in DailyRoot.objects.order_by("date"):
        yield Rooted(row.date.isoformat(), row.header, row.size, row.root, row.previous_root, grown.get(row.pk, ()))


def as_line(rooted: Rooted) -> dict[str, Any]:
    """A root as a line of the file to keep elsewhere: it can be checked with nothing but the file."""
    return {
        "date": rooted.date,
        "root": rooted.root,
        "previous_root": rooted.previous_root,
        "size": rooted.size,
        "header": rooted.header,
        "grown": [list(head) for head in rooted.grown],
    }


def from_lines(lines: Iterable[str]) -> list[Rooted]:
    """Read a file of roots.

    Raises
    ------
    Refused
        Naming the first line that is no root.
    """
    found = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            told = json.loads(line)
            heads = tuple(Head(str(s), int(f), int(n), str(h), str(e)) for s, f, n, h, e in told["grown"])
            found.append(Rooted(told["date"], told["header"], told["size"], told["root"], told["previous_root"], heads))
        except (ValueError, KeyError, TypeError):
            sentence = f"Line {number} of the file is no root as export_roots writes it. Take the file as it was kept."
            raise Refused("no-root", sentence) from None
    return found


def misfits_in_roots(roots: Iterable[Rooted]) -> Iterator[Misfit]:
    """Whether each root follows from its leaves and from the root before it."""
    heads: dict[str, Head] = {}
    previous, day = ZERO, ""
    for rooted in roots:
        where = f"root of {rooted.date}"
        if rooted.date <= day:
            yield Misfit(where, f"it does not come after the root of {day}")
        if rooted.previous_root != previous:
            yield Misfit(where, "it does not follow the root before it")
        for head in rooted.grown:
            known = heads.get(head.stream)
            if head.first != (known.seq + 1 if known else 1):
                yield Misfit(where, f"stream {head.stream} does not go on where the root before left it")
            heads[head.stream] = head
        tree = tree_of(rooted.header.encode(), heads)
        if len(tree) != rooted.size or root_of(tree).hex() != rooted.root:
            yield Misfit(where, "its leaves do not give it")
        if not _header_fits(rooted):
            yield Misfit(where, "its header speaks of another root")
        previous, day = rooted.root, rooted.date


def _header_fits(rooted: Rooted) -> bool:
    try:
        told = json.loads(rooted.header)
        return bool(told["date"] == rooted.date and told["previous_root"] == rooted.previous_root)
    except (ValueError, KeyError, TypeError):
        return False


def misfits_with_columns() -> Iterator[Misfit]:
    """Whether the columns of each stored root repeat its header."""
    for row in DailyRoot.objects.order_by("date"):
        header = header_leaf(day=row.date, since=row.since, made_at=row.made_at, previous_root=row.previous_root)
        if header.decode() != row.header:
            yield Misfit(f"root of {row.date}", "its columns differ from its header")


def misfits_with_events(roots: Iterable[Rooted], since: str = "") -> Iterator[Misfit]:
    """Whether the events of each root are still there as the root has them. Finds a tail that was cut off."""
    gone: set[str] = set()
    for rooted in roots:
        if rooted.date < since:
            continue
        for head in rooted.grown:
            if head.stream in gone:
                continue
            rows = Event.objects.filter(stream=head.stream, seq__gte=head.first, seq__lte=head.seq).order_by("seq")
            links = list(rows.values_list("hash", flat=True))
            where = f"{head.stream} {head.first}"
            if len(links) < head.seq - head.first + 1:
                gone.add(head.stream)
                at = head.first + len(links)
                sentence = f"the root of {rooted.date} covers events up to {head.seq}; from about {at} on they are gone"
                yield Misfit(f"{head.stream} {at}", sentence, head.stream, at)
            elif links[-1] != head.hash or _differ(links, head):
                sentence = f"events {head.first} to {head.seq} are not those of the root of {rooted.date}"
                yield Misfit(where, sentence, head.stream, head.first)


def _differ(links: list[str], head: Head) -> bool:
    try:
        return events_root(links) != head.events_root
    except ValueError:
        return True


def misfits_against(kept: list[Rooted]) -> Iterator[Misfit]:
    """The database against roots that were kept elsewhere."""
    yield from (Misfit(f"kept {misfit.where}", misfit.sentence) for misfit in misfits_in_roots(kept))
    here = {rooted.date: rooted.root for rooted in stored_roots()}
    for rooted in kept:
        if rooted.date not in here:
            yield Misfit(f"root of {rooted.date}", "it stands in the kept file and not in this database")
        elif here[rooted.date] != rooted.root:
            yield Misfit(f"root of {rooted.date}", "the kept file has another root of that day")
    yield from misfits_with_events(kept)


def root_before(moment: datetime) -> DailyRoot | None:
    """The last root made before a moment."""
    return DailyRoot.objects.filter(made_at__lt=moment).order_by("-date").first()

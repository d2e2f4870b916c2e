"""One verification of everything, or of what came since a day."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import chain

from plant.audit.models import Event
from plant.audit.services.rooting import heads_until
from plant.audit.verification import events, roots
from plant.audit.verification.registry import VERIFIERS, Misfit, Note


@dataclass
class Verified:
    """What was looked at and what does not fit."""

    events: int = 0
    streams: int = 0
    roots: int = 0
    last_root: str = ""
    checks: list[str] = field(default_factory=list)
    misfits: list[Misfit] = field(default_factory=list)
    purged: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        """Whether everything fits."""
        return not self.misfits

    def first_of_each(self) -> list[Misfit]:
        """The first event of each stream that does not fit, then everything else in order."""
        seen: set[str] = set()
        first, rest = [], []
        for misfit in self.misfits:
            if not misfit.stream:
                rest.append(misfit)
            elif misfit.stream not in seen:
                seen.add(misfit.stream)
                first.append(misfit)
        return first + rest


def _starts(since: datetime | None) -> dict[str, events.Place]:
    """Where each stream's check begins: after what a root before that moment covers, else at the beginning."""
    anchor = roots.root_before(since) if since else None
    return {head.stream: events.Place(head.seq, head.hash) for head in heads_until(anchor).values()}


def misfits_in_streams(found: Verified, since: datetime | None) -> Iterator[Misfit]:
    """All streams by name, each to its end."""
    starts, heads, ends = _starts(since), events.heads(), events.ends()
    for stream in sorted(set(heads) | set(ends)):
        head, after = heads.get(stream), starts.get(stream, events.START)
        last = max(ends.get(stream, 0), after.seq)
        if head is not None and head.seq == 0 and last == 0:
            continue
        found.streams += 1
        found.events += last - after.seq
        yield from events.misfits_in(stream, after, last, head)


def verify(*, since: datetime | None = None, kept: list[roots.Rooted] | None = None) -> Verified:
    """Check streams, roots, and everything that the applications registered; `kept` are roots from elsewhere."""
    found = Verified()
    found.misfits.extend(misfits_in_streams(found, since))
    stored = list(roots.stored_roots())
    found.roots, found.last_root = len(stored), stored[-1].root if stored else ""
    day = since.date().isoformat() if since else ""
    in_roots = chain(
        roots.misfits_in_roots(stored), roots.misfits_with_columns(), roots.misfits_with_events(stored, day)
    )
    found.misfits.extend(in_roots)
    if kept is not None:
        found.misfits.extend(roots.misfits_against(kept))
    for name, check in VERIFIERS.items():
        found.checks.append(name)
        for each in check():
            if isinstance(each, Note):
                found.purged.append(each.sentence)
            else:
                found.misfits.append(each)
    return found


def misfit_of_event(event: Event) -> Misfit | None:
    """Whether one event fits where it stands: its own bytes, the link before it and the link after it."""
    before = events.START
    if event.seq > 1:
        link = Event.objects.filter(stream=event.stream, seq=event.seq - 1).values_list("hash", flat=True).first()
        before = events.Place(event.seq - 1 if link else 0, link or "")
    last = event.seq + Event.objects.filter(stream=event.stream, seq=event.seq + 1).count()
    head = events.heads().get(event.stream) if last == event.seq else None
    for row in events.rows_of(event.stream, event.seq, last):
        misfit = row if isinstance(row, Misfit) else events.misfit_of(row, before)
        if misfit:
            return misfit
        if not isinstance(row, Misfit):
            before = events.Place(row.seq, row.hash)
    if last == event.seq and (head is None or head.hash != before.hash):
        return Misfit(f"{event.stream} {event.seq}", "the stream's head names another last event", event.stream)
    return None

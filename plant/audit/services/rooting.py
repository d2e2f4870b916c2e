"""Making the daily root."""

from datetime import UTC, datetime

from django.db import connection, transaction

from plant.audit.canonical import ZERO
from plant.audit.leaves import Head, events_root, header_leaf, tree_of
from plant.audit.merkle import root_of
from plant.audit.models import DailyRoot, Event, RootHead, StreamHead


def heads_until(root: DailyRoot | None) -> dict[str, Head]:
    """The leaf of every stream as a root has it: the newest row of each, up to that root."""
    if root is None:
        return {}
    rows = RootHead.objects.filter(root__date__lte=root.date).order_by("root__date")
    return {row[0]: Head(*row) for row in rows.values_list("stream", "first", "seq", "hash", "events_root")}


def _new_head(stream: str, seq: int, last: str, before: Head | None) -> Head:
    first = before.seq + 1 if before else 1
    rows = Event.objects.filter(stream=stream, seq__gte=first, seq__lte=seq).order_by("seq")
    return Head(stream, first, seq, last, events_root(rows.values_list("hash", flat=True).iterator()))


@transaction.atomic
def make_root(at: datetime) -> DailyRoot:
    """The root of this day (in UTC) over the heads of all streams; made once a day, later calls give the same.

    Events written after it on that day are covered by the next one. Days on which nothing ran get no root of their
    own: nobody could say now how things stood then. The next one covers them, and its header says since when.
    """
    day = at.astimezone(UTC).date()
    if connection.vendor == "postgresql":  # of two who make it at once, the second finds it made
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(6962)")
    last = DailyRoot.objects.order_by("-date").first()
    if last is not None and last.date >= day:
        return last
    before = heads_until(last)
    heads, grown = dict(before), []
    for stream, seq, link in (
        StreamHead.objects.filter(seq__gt=0).order_by("stream").values_list("stream", "seq", "hash")
    ):
        known = before.get(stream)
        if known is None or known.seq < seq:
            heads[stream] = _new_head(stream, seq, link, known)
            grown.append(heads[stream])
    previous = last.root if last else ZERO
    since = last.made_at if last else None
    header = header_leaf(day=day, since=since, made_at=at, previous_root=previous)
    tree = tree_of(header, heads)
    made = DailyRoot.objects.create(
        date=day,
        since=since,
        header=header.decode(),
        size=len(tree),
        root=root_of(tree).hex(),
        previous_root=previous,
        made_at=at,
    )
    RootHead.objects.bulk_create(RootHead(root=made, **head._asdict()) for head in grown)
    return made

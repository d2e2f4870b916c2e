"""A proof that one event stood in these records on a day: checked with nothing but the proof and the day's root."""

import json
from datetime import datetime
from typing import Any

from plant.audit.leaves import Head, head_leaf, tree_of
from plant.audit.merkle import leaf_hash, path_of
from plant.audit.models import DailyRoot, Event, RootHead
from plant.audit.services.rooting import heads_until
from plant.errors import Conflict

KIND = "Bandkeeper: proof of one event, version 1"


def proof_of(event: Event) -> dict[str, Any]:
    """The event, its path to its stream's leaf, and the paths of that leaf and of the header to the root.

    Other events are present as hashes only, so the proof of one tells nothing of the others.

    Raises
    ------
    Conflict
        While no daily root covers the event.
    """
    found = RootHead.objects.filter(stream=event.stream, first__lte=event.seq, seq__gte=event.seq)
    row = found.select_related("root").order_by("root__date").first()
    if row is None:
        sentence = "No daily root covers this event yet. The next one is made within a day; ask for the proof then."
        raise Conflict("not-rooted", sentence)
    head = Head(row.stream, row.first, row.seq, row.hash, row.events_root)
    links = Event.objects.filter(stream=row.stream, seq__gte=row.first, seq__lte=row.seq).order_by("seq")
    leaves = [leaf_hash(bytes.fromhex(link)) for link in links.values_list("hash", flat=True)]
    heads, root = heads_until(row.root), row.root
    tree = tree_of(root.header.encode(), heads)
    at = 1 + sorted(heads).index(row.stream)
    return {
        "kind": KIND,
        "event": {"previous_hash": event.previous_hash, "body": event.body, "hash": event.hash},
        "in_stream": _place(leaves, event.seq - row.first),
        "stream": head_leaf(head).decode(),
        "in_root": _place(tree, at),
        "header": root.header,
        "header_in_root": _place(tree, 0),
        "root": root.root,
        "date": root.date.isoformat(),
    }


def _place(leaves: list[bytes], index: int) -> dict[str, Any]:
    return {"index": index, "size": len(leaves), "path": [each.hex() for each in path_of(leaves, index)]}


def covering_root(event: Event) -> DailyRoot | None:
    """The first daily root that covers an event."""
    row = RootHead.objects.filter(stream=event.stream, first__lte=event.seq, seq__gte=event.seq)
    found = row.select_related("root").order_by("root__date").first()
    return found.root if found else None


def as_file(proof: dict[str, Any]) -> bytes:
    """The proof as it is handed over."""
    return json.dumps(proof, indent=1, ensure_ascii=False).encode() + b"\n"


def root_at(moment: datetime) -> DailyRoot | None:
    """The newest root that there was at a moment, as it is printed on papers of that moment."""
    return DailyRoot.objects.filter(made_at__lte=moment).order_by("-date").first()

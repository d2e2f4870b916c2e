"""The leaves of the trees of a daily root. Pure: the same code makes, proves and checks them."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import NamedTuple

from plant.audit.canonical import canonical
from plant.audit.merkle import leaf_hash, root_of


class Head(NamedTuple):
    """A stream as a root has it: events `first` to `seq` came new, `hash` is the last link."""

    stream: str
    first: int
    seq: int
    hash: str
    events_root: str


def head_leaf(head: Head) -> bytes:
    """The leaf of a stream."""
    return canonical(head._asdict())


def header_leaf(*, day: date, since: datetime | None, made_at: datetime, previous_root: str) -> bytes:
    """The first leaf: which day, and which root came before and when."""
    return canonical({"date": day, "since": since, "made_at": made_at, "previous_root": previous_root})


def events_root(hashes: Iterable[str]) -> str:
    """The root over the links of a stream, in their order."""
    return root_of([leaf_hash(bytes.fromhex(each)) for each in hashes]).hex()


def tree_of(header: bytes, heads: Mapping[str, Head]) -> list[bytes]:
    """The hashes of all leaves: the header, then the streams by name (in the order of code points)."""
    return [leaf_hash(header), *(leaf_hash(head_leaf(heads[stream])) for stream in sorted(heads))]

"""What may be removed after its time, by name. Each application says it in its `purging.py`."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Purgeable:
    """Rows whose content column may go empty by a signed order.

    `due(before)` gives the rows as they are exported, each with its `id`; `also(ids)` takes away what repeats them.
    """

    matter: str
    title: str
    table: str
    column: str
    due: Callable[[datetime], list[dict[str, Any]]]
    also: Callable[[list[int]], None]


PURGEABLES: dict[str, Purgeable] = {}


def purgeable(item: Purgeable) -> Purgeable:
    """Register what may be removed."""
    if item.matter in PURGEABLES:
        raise ValueError(f"two things are purged as {item.matter}")
    PURGEABLES[item.matter] = item
    return item

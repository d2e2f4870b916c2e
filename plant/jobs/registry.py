"""The work that the applications have registered, by name."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

Outcome = dict[str, Any] | None


@dataclass(frozen=True)
class Work:
    """`run(now, due_at, **arguments)`; periodic where `every` is set."""

    name: str
    run: Callable[..., Outcome]
    every: timedelta | None


WORK: dict[str, Work] = {}


def work(name: str, *, every: timedelta | None = None) -> Callable[[Callable[..., Outcome]], Callable[..., Outcome]]:
    """Register a function as work. It must be safe to run twice: a killed run is run again."""

    def register(run: Callable[..., Outcome]) -> Callable[..., Outcome]:
        if name in WORK:
            raise ValueError(f"two works are called {name}")
        WORK[name] = Work(name, run, every)
        return run

    return register


def next_slot(due_at: datetime, every: timedelta, now: datetime) -> tuple[datetime, int]:
    """The first slot after `now` on the grid of `due_at`, and how many slots between were missed."""
    behind = max(0, (now - due_at) // every)
    return due_at + (behind + 1) * every, behind

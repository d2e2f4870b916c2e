"""The window in which tape was computed, and what a set-point outside it means. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Window:
    """Tension (N/m) and speed (m/min) between which everything on the path was computed."""

    tension: tuple[float, float]
    speed: tuple[float, float]


@dataclass(frozen=True)
class Change:
    """A changed set-point: quantity, value, moment."""

    quantity: str
    value: float
    at: datetime


def common_window(windows: Iterable[Window]) -> Window | None:
    """The part that all windows share; None where there is none at all to share."""
    rows = list(windows)
    if not rows:
        return None
    return Window(
        (max(row.tension[0] for row in rows), min(row.tension[1] for row in rows)),
        (max(row.speed[0] for row in rows), min(row.speed[1] for row in rows)),
    )


def outside(window: Window, quantity: str, value: float) -> str:
    """below, above, or nothing."""
    low, high = window.tension if quantity == "tension" else window.speed
    return "below" if value < low else "above" if value > high else ""


MEANING = {
    ("tension", "below"): "Lower tension makes the tape on the rollers relatively more: the edges take the load.",
    ("tension", "above"): "Higher tension raises the stress at the edges; look at the edges and at the yield.",
    ("speed", "above"): "Higher speed brings more air under the web: it may slip, and slip turns the effect round.",
    ("speed", "below"): "Lower speed is on the safe side for grip.",
}


def outside_since(changes: Iterable[Change], window: Window, quantity: str) -> datetime | None:
    """Since when the value lies below (tension) or above (speed) its window; None while it is inside."""
    wrong = "below" if quantity == "tension" else "above"
    since = None
    for change in changes:
        if change.quantity != quantity:
            continue
        since = since or change.at if outside(window, quantity, change.value) == wrong else None
    return since


def blocks_now(since: datetime | None, at: datetime, minutes: float) -> bool:
    """Whether a set-point has been outside for longer than the plant lets it."""
    return since is not None and at - since >= timedelta(minutes=minutes)

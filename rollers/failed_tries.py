"""Tape that was tried and made it worse: it stays in sight where the next tape is sized.

The core knows the slow restarts that said *back off*; an app above adds what its studies found.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from plant.floor.models import Position, Run
from rollers.models import RecipeVersion, TapeFact


@dataclass(frozen=True)
class FailedTry:
    """One try: what was on, with which product and tension, and what said that it was worse."""

    product: str
    stock: str
    wraps: int
    tension_n_per_m: float
    words: str


FindTries = Callable[[Position], Iterable[FailedTry]]
_FIND: list[FindTries] = []


def finds_tries(find: FindTries) -> FindTries:
    """Register a further source; written in an app's `says.py`."""
    _FIND.append(find)
    return find


def failed_try(version: RecipeVersion, product: str, tension: float, words: str) -> FailedTry | None:
    """A try of a recipe version; None where it has no tape."""
    wraps = max((band.wraps for band in version.bands.all()), default=0)
    if version.stock is None or not wraps:
        return None
    return FailedTry(product, version.stock.code, wraps, tension, words)


def _restarts(position: Position) -> list[FailedTry]:
    rows = TapeFact.objects.filter(position=position, kind=TapeFact.Kind.RESTART, details__passed=False)
    facts = list(rows.select_related("recipe_version__stock").prefetch_related("recipe_version__bands"))
    keys = {fact.details.get("run") for fact in facts}
    runs = Run.objects.filter(pk__in=keys).select_related("product_version__product").in_bulk() if facts else {}
    found = []
    for fact in facts:
        run, version = runs.get(fact.details.get("run", 0)), fact.recipe_version
        if run is None or version is None:
            continue
        words = f"backed off at the restart of {fact.at:%Y-%m-%d}"
        made = failed_try(version, run.product_version.product.code, run.tension_n_per_m, words)
        found += [made] if made else []
    return found


def tries_at(position: Position) -> list[FailedTry]:
    """Every try at a roller that made it worse."""
    return _restarts(position) + [one for find in _FIND for one in find(position)]

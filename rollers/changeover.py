"""The change sheet of a run: for every roller keep, remove, apply or resize, with minutes. Reads only."""

from dataclasses import dataclass
from datetime import datetime

from plant.floor.models import Run
from rollers.control import controls
from rollers.models import RecipeVersion, TapeFact
from rollers.queries import newest_facts
from rollers.readiness import PositionReadiness, Readiness
from rollers.rules import Finding, lanes
from rollers.services.runs import readiness_of

WORDS = {"keep": "keep", "remove": "take off", "apply": "put on", "change": "take off, then put on"}


@dataclass(frozen=True)
class ChangeRow:
    """What is done at one roller. Minutes are the plant's own figures for its tapes."""

    found: PositionReadiness
    action: str
    off_lanes: int
    on_lanes: int
    minutes: float
    version: RecipeVersion | None
    serious: tuple[Finding, ...]

    @property
    def words(self) -> str:
        """The action in the words of the sheet."""
        if self.action == "change" and self.found.on.older:
            return "resize: take off, then put on"
        return WORDS[self.action]

    @property
    def done(self) -> bool:
        """Nothing is left to do here."""
        return self.action == "keep" and not self.found.blocks


@dataclass(frozen=True)
class ChangeSheet:
    """The change of a line to its next run."""

    run: Run
    found: Readiness
    rows: tuple[ChangeRow, ...]
    lockout_minutes: float

    @property
    def to_do(self) -> tuple[ChangeRow, ...]:
        """Rollers at which something is to be done."""
        return tuple(row for row in self.rows if not row.done)

    @property
    def minutes(self) -> float:
        """All of it, one after the other, with one lockout."""
        work = sum(row.minutes for row in self.rows)
        return work + self.lockout_minutes if work else 0.0


def lanes_of(version: RecipeVersion | None) -> int:
    """Lanes of tape of a recipe, both ends together."""
    if version is None or version.stock is None:
        return 0
    return sum(lanes(band.inner_mm, band.outer_mm, version.stock.width_mm) for band in version.bands.all())


def change_sheet(run: Run, at: datetime) -> ChangeSheet:
    """Computed now from what is on the rollers and what the run asks for; a changed plan changes it."""
    found = readiness_of(run, at)
    facts = newest_facts(row.body for row in found.positions if row.body)
    wanted = {row.required.version_id for row in found.positions if row.required.version_id}
    versions = {
        row.pk: row
        for row in RecipeVersion.objects.filter(pk__in=wanted)
        .select_related("stock", "recipe__position", "step")
        .prefetch_related("bands")
    }
    settings = controls()
    rows = tuple(_row(row, facts, versions, settings["walk_minutes"]) for row in found.positions)
    return ChangeSheet(run, found, rows, settings["lockout_minutes"])


def _row(
    row: PositionReadiness, facts: dict[int, TapeFact], versions: dict[int, RecipeVersion], walk: float
) -> ChangeRow:
    fact = facts.get(row.body.pk) if row.body else None
    worn = fact.recipe_version if fact else None
    wanted = versions.get(row.required.version_id) if row.required.version_id else None
    off = lanes_of(worn) if row.action in ("remove", "change") else 0
    on = lanes_of(wanted) if row.action in ("apply", "change") else 0
    minutes = off * (worn.stock.remove_minutes if worn and worn.stock else 0)
    minutes += on * (wanted.stock.apply_minutes if wanted and wanted.stock else 0)
    return ChangeRow(row, row.action, off, on, minutes + (walk if minutes else 0), wanted, row.blocks)

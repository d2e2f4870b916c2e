"""The order of the coming runs of a line that needs least re-taping, and the choice of tape where the order is fixed.

Reads only: the answer is a proposal. Runs are planned, taped and released as ever.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from calcs.case import CaseError
from calcs.changeover import BARE, Minutes, Plan, TapeState, best_order, given_order
from calcs.changeover import Run as RunToOrder
from calcs.limits import Limits
from plant.errors import Refused
from plant.floor.models import Line, PathStep, Position, ProductVersion, Run, WebPath
from rollers.cases import case_for
from rollers.changeover import lanes_of
from rollers.control import controls
from rollers.models import Body, RecipeVersion, TapeStock
from rollers.queries import misalignments, mounted, newest_facts, requirements
from rollers.readiness import judge, present_limits
from rollers.rules import Required

MOST_RUNS = 40
STANDARD_MINUTES = 240.0  # how long a run takes where nobody said: half a shift


@dataclass(frozen=True)
class Asked:
    """One coming run: how long it takes, from when it may start, until when it has to be done. Minutes from now."""

    run: Run
    minutes: float = STANDARD_MINUTES
    release: float = 0.0
    due: float | None = None

    @property
    def name(self) -> str:
        """The run as it is shown: product and number."""
        return f"{self.run.product_version.product.code} ({self.run.pk})"


@dataclass(frozen=True)
class Choice:
    """A tape that the calculation allows where no recipe for it is signed: it needs a recipe before it is used."""

    position: str
    product: str
    tape: str
    verdict: str


@dataclass(frozen=True)
class Orders:
    """The plan as it stands, the best order, and the best choice of tapes for the order as it stands."""

    planned: Plan
    best: Plan
    chosen: Plan | None
    choices: tuple[Choice, ...] = field(default=())

    @property
    def saved(self) -> float:
        """Minutes that the best order saves against the plan."""
        return self.planned.objective - self.best.objective


def state_of(version: RecipeVersion | None) -> TapeState:
    """A recipe as a state of a roller."""
    if version is None or version.stock is None:
        return BARE
    bands = sorted(version.bands.all(), key=lambda band: (band.end, band.inner_mm))
    place = ", ".join(f"{band.end} {band.inner_mm:g} to {band.outer_mm:g} × {band.wraps}" for band in bands)
    return TapeState(version.stock.code, lanes_of(version), max(band.wraps for band in bands), place)


@dataclass
class _World:
    """What all runs share: rollers, what is on them, settings; read once."""

    line: Line
    positions: list[Position]
    bodies: dict[int, Body]
    now: dict[str, TapeState]
    limits: Limits
    tilt: dict[int, float]


def _world(line: Line) -> _World:
    positions = list(line.positions.all())
    mountings = mounted(positions)
    bodies = {key: row.body for key, row in mountings.items()}
    facts = newest_facts(bodies.values())
    now = {}
    for position in positions:
        body = bodies.get(position.pk)
        fact = facts.get(body.pk) if body else None
        now[position.code] = state_of(fact.recipe_version if fact and fact.state in ("taped", "partial") else None)
    return _World(line, positions, bodies, now, present_limits(), misalignments(positions))


def _steps_of(path: WebPath) -> list[Position]:
    return [step.position for step in path.steps.select_related("position").order_by("order")]


def _tolerated(
    required: Mapping[int, Required], versions: Mapping[int, RecipeVersion], on_path: Sequence[Position]
) -> dict[str, list[TapeState]]:
    """What a run takes at each position; where nothing is decided any state will do."""
    found = {}
    for position in on_path:
        asked = required[position.pk]
        if asked.kind == "undecided":
            continue
        found[position.code] = [state_of(versions.get(asked.version_id) if asked.version_id else None)]
    return found


def minutes_of(line: Line) -> Minutes:
    """Minutes per lane of every stock, and of lockout per stop, as the plant set them."""
    stocks = list(TapeStock.objects.all())
    return Minutes(
        {stock.code: stock.apply_minutes for stock in stocks},
        {stock.code: stock.remove_minutes for stock in stocks},
        controls()["lockout_minutes"],
    )


def orders(line: Line, asked: Sequence[Asked]) -> Orders:
    """Best order and best tapes for the coming runs of a line.

    Raises
    ------
    Refused
        Fewer than two runs, too many, or a time that cannot be.
    """
    if len(asked) < 2:
        raise Refused("few-runs", "Plan at least two runs on this line; an order needs something to order.")
    if len(asked) > MOST_RUNS:
        raise Refused("many-runs", f"{MOST_RUNS} runs are the most that are ordered at once. Leave some out.")
    world, weight = _world(line), controls()["late_weight"]
    signed, allowed, choices = [], [], []
    for one in asked:
        on_path = _steps_of(one.run.path)
        found = requirements(one.run.product_version, one.run.path, on_path)
        takes = _tolerated(found.by_position, found.versions, on_path)
        signed.append(RunToOrder(one.name, one.minutes, takes, one.release, one.due))
        more, said = _allowed(world, one.run, takes, asked)
        choices += said
        allowed.append(RunToOrder(one.name, one.minutes, more, one.release, one.due))
    minutes = minutes_of(line)
    try:
        planned = given_order(signed, world.now, minutes, weight)
        best = best_order(signed, world.now, minutes, weight)
        chosen = given_order(allowed, world.now, minutes, weight) if choices else None
    except CaseError as trouble:
        raise Refused("cannot-order", f"The runs cannot be ordered: {trouble.sentence}") from None
    used = {(action.position, action.then) for step in chosen.steps for action in step.actions} if chosen else set()
    shown = tuple(one for one in choices if any(where == one.position for where, _ in used))
    return Orders(planned, best, chosen, shown)


def _allowed(
    world: _World, run: Run, takes: Mapping[str, list[TapeState]], asked: Sequence[Asked]
) -> tuple[dict[str, list[TapeState]], list[Choice]]:
    """Tapes of the other runs' recipes that the calculation does not refuse for this product at the same roller."""
    others = {
        row.recipe.position_id: row
        for one in asked
        for row in requirements(one.run.product_version, one.run.path, _steps_of(one.run.path)).versions.values()
        if row.stock is not None
    }
    more = {code: list(states) for code, states in takes.items()}
    choices = []
    for step in run.path.steps.select_related("position").order_by("order"):
        position, body = step.position, world.bodies.get(step.position_id)
        version = others.get(position.pk)
        state = state_of(version)
        if version is None or body is None or position.never_taped or state in more.get(position.code, [state]):
            continue
        verdict = _verdict(world, run.product_version, version, step, body)
        if verdict in ("fits", "caution"):
            more[position.code].append(state)
            choices.append(Choice(position.code, run.product_version.product.code, state.stock, verdict))
    return more, choices


def _verdict(world: _World, product: ProductVersion, version: RecipeVersion, step: PathStep, body: Body) -> str:
    case = case_for(
        product,
        step,
        body,
        stock=version.stock,
        bands=version.bands.all(),
        misalignment=world.tilt.get(step.position_id),
    )
    judged, _ = judge(case, world.limits)
    return judged.overall


def coming_runs(line: Line, at: datetime) -> list[Asked]:
    """The planned runs of a line in their order; each is taken to last until the next begins."""
    rows = list(
        Run.objects.filter(line=line, state=Run.State.PLANNED)
        .select_related("product_version__product", "path__line")
        .order_by("starts_at", "pk")
    )
    found = []
    for row, following in zip(rows, [*rows[1:], None], strict=True):
        minutes = (following.starts_at - row.starts_at).total_seconds() / 60 if following else STANDARD_MINUTES
        found.append(Asked(row, max(minutes, 1.0)))
    return found

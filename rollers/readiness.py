"""May this line run this product now? One answer per position, computed from records and mechanics. Reads only."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from calcs.case import CaseError, parse_case
from calcs.limits import DEFAULT, Limits
from calcs.verdict import check
from plant.floor.models import PathStep, Position, ProductVersion, Run, WebPath
from plant.floor.queries import plant_date
from rollers import queries
from rollers.cases import SetPoints, case_for
from rollers.control import controls
from rollers.matters import matters_of
from rollers.models import Body, RecipeVersion, TapeFact, TapeStock
from rollers.queries_overrides import overrides_now
from rollers.queries_window import outside_since_of
from rollers.rooms import room_kinds
from rollers.rules import Finding, Judged, OnRoller, Place, Required, Weight, findings
from rollers.rules_line import off_path, standing, stock_troubles
from rollers.rules_overrides import let_pass
from rollers.rules_window import MEANING, blocks_now
from rollers.trial_recipes import said_at, trials_among


@dataclass(frozen=True)
class PositionReadiness:
    """One position for one product: what must be there, what is there, and what follows."""

    position: Position
    step: PathStep | None
    body: Body | None
    place: Place
    required: Required
    on: OnRoller
    findings: tuple[Finding, ...]
    case: dict[str, Any] | None = None
    result: dict[str, Any] | None = None

    @property
    def blocks(self) -> tuple[Finding, ...]:
        """What stops the release here."""
        return tuple(finding for finding in self.findings if finding.weight == Weight.BLOCK)

    @property
    def cautions(self) -> tuple[Finding, ...]:
        """What is said before the release."""
        return tuple(finding for finding in self.findings if finding.weight == Weight.CAUTION)

    @property
    def notices(self) -> tuple[Finding, ...]:
        """What is good to know."""
        return tuple(finding for finding in self.findings if finding.weight == Weight.NOTICE)

    @property
    def word(self) -> str:
        """blocked, caution or ready."""
        return "blocked" if self.blocks else "caution" if self.cautions else "ready"

    @property
    def action(self) -> str:
        """What the change asks for: apply, remove, change, keep."""
        if self.required.kind == "taped":
            if self.on.state == "taped":
                kept = self.on.version_id == self.required.version_id or self.on.same_tape
                return "keep" if kept else "change"
            return "apply"
        if self.required.kind == "bare" and self.on.state in ("taped", "partial"):
            return "remove"
        return "keep"


@dataclass(frozen=True)
class Readiness:
    """The whole path. `others` are positions off the path: listed, not blocking."""

    path: WebPath
    product_version: ProductVersion
    at: datetime
    positions: tuple[PositionReadiness, ...]
    others: tuple[PositionReadiness, ...] = ()
    line_blocks: tuple[Finding, ...] = ()
    sheet_label: str = ""
    limits_version: str = ""

    @property
    def blocks(self) -> tuple[Finding, ...]:
        """Everything that stops the release, the line's first, then in path order."""
        return self.line_blocks + tuple(block for row in (*self.positions, *self.others) for block in row.blocks)

    @property
    def may_run(self) -> bool:
        """Whether a supervisor could release now."""
        return not self.blocks


def present_limits() -> Limits:
    """The limits that hold now: the plant's newest set, else those the project ships."""
    own = queries.newest_limit_set()
    return Limits.from_dict(own.limits) if own else DEFAULT


def judge(
    case: dict[str, Any], limits: Limits, accepted: frozenset[str] = frozenset()
) -> tuple[Judged, dict[str, Any]]:
    """Ask calcs; input that cannot be used becomes a sentence, not an error."""
    try:
        result = check(parse_case(case), limits).as_dict()
    except CaseError as trouble:
        return Judged(trouble=f"cannot be computed: {trouble.sentence}"), {}
    rows = tuple((row["id"], row["verdict"], row["sentence"]) for row in result["checks"])
    notices = tuple(notice["sentence"] for notice in result["notices"])
    return Judged(result["verdict"], rows, notices, accepted=accepted), result


def _stock_troubles(
    stock: TapeStock, place: Place, step: PathStep, version: ProductVersion, day: date
) -> tuple[str, ...]:
    return stock_troubles(
        stock.code,
        room_kind=place.room_kind,
        permitted=stock.room_kinds,
        on_contact_side=bool(version.contact_side) and version.contact_side == step.web_side,
        statement_ends=stock.contact_statement_ends,
        day=day,
    )


def _compared(on: OnRoller, fact: TapeFact | None, wanted: RecipeVersion | None) -> OnRoller:
    """What is on against what is asked for: the same tape by another version, or an older version of the recipe."""
    worn = fact.recipe_version if fact else None
    if worn is None or wanted is None or worn.pk == wanted.pk:
        return on
    shape = [[(b.end, b.inner_mm, b.outer_mm, b.wraps) for b in one.bands.all()] for one in (worn, wanted)]
    same = worn.stock_id == wanted.stock_id and sorted(shape[0]) == sorted(shape[1])
    return replace(on, same_tape=same, older=worn.recipe_id == wanted.recipe_id)


def _accepted(fact: TapeFact | None, version: ProductVersion) -> frozenset[str]:
    recipe = fact.recipe_version if fact else None
    return frozenset(recipe.reasons.get(version.product.code, {})) if recipe else frozenset()


def readiness(
    path: WebPath,
    version: ProductVersion,
    *,
    at: datetime,
    set_points: SetPoints | None = None,
    running: bool = False,
) -> Readiness:
    """Compute the answer for a path and a product. A fixed number of queries, whatever the number of rollers.

    `running`: for the run that goes on now; some things may wait for its end that a new run may not start with.
    """
    steps = list(path.steps.select_related("position__room").order_by("order"))
    on_path = [step.position for step in steps]
    beside = list(path.line.positions.exclude(pk__in=[p.pk for p in on_path]).select_related("room"))
    everywhere = on_path + beside
    asked = queries.requirements(version, path, on_path)
    mountings = queries.mounted(everywhere)
    facts = queries.newest_facts(row.body for row in mountings.values())
    tilt = queries.misalignments(on_path)
    kinds = room_kinds({position.room_id for position in everywhere}, at)
    limits, settings = present_limits(), controls()
    taped = any(fact.recipe_version_id for fact in facts.values())
    day = plant_date(at) if taped else at.date()  # only a statement about tape asks for the plant's day
    wanted = {key: asked.versions[row.version_id] for key, row in asked.by_position.items() if row.version_id}
    bodies = {key: row.body for key, row in mountings.items()}
    beside_tape = matters_of(everywhere, bodies, facts, wanted, at, kinds=kinds, settings=settings)
    passed = overrides_now(path.line, at)
    trials = trials_among([*wanted.values(), *(fact.recipe_version for fact in facts.values())], at)

    def one(position: Position, step: PathStep | None) -> PositionReadiness:
        mounting = mountings.get(position.pk)
        body = mounting.body if mounting else None
        fact = facts.get(body.pk) if body else None
        required = asked.by_position.get(position.pk, Required("bare"))
        if required.version_id:
            changed = (at - version.entered_at).total_seconds() / 86400
            required = replace(required, changed_days=changed, may_wait_days=settings["re_check_days"], running=running)
        on = _compared(queries.on_roller(fact), fact, wanted.get(position.pk))
        place = Place(
            position.code,
            kinds[position.room_id],
            body.serial if body else "",
            mounting.orientation if mounting else "normal",
            step.rotation if step else "",
        )
        matters = beside_tape[position.pk]
        judged, case, result = Judged(), None, None
        recipe = fact.recipe_version if fact and on.state == "taped" else None
        if step and body and recipe and recipe.stock:
            on = replace(on, stock_troubles=_stock_troubles(recipe.stock, place, step, version, day))
            case = case_for(
                version,
                step,
                body,
                stock=recipe.stock,
                bands=recipe.bands.all(),
                at=set_points,
                misalignment=tilt.get(position.pk),
            )
            judged, result = judge(case, limits, _accepted(fact, version))
        if step:
            found = findings(place, required, on, judged)
            found += standing(place, required, matters, at, settings["diameter_change_pct"], running=running)
            found += said_at(position.code, trials, required.version_id, on.version_id)
        else:
            found = off_path(place, matters, running=running)
        found = sorted(let_pass(position.code, found, passed), key=lambda finding: list(Weight).index(finding.weight))
        return PositionReadiness(position, step, body, place, required, on, tuple(found), case, result or None)

    rows = tuple(one(step.position, step) for step in steps)
    return Readiness(
        path=path,
        product_version=version,
        at=at,
        positions=rows,
        others=tuple(one(position, None) for position in beside),
        line_blocks=tuple(let_pass("", _line_blocks(path, version, at, settings, running=running), passed)),
        sheet_label=f"product sheet v{asked.sheet.number}" if asked.sheet else "",
        limits_version=limits.version,
    )


def _outside_window(path: WebPath, version: ProductVersion, at: datetime, minutes: float) -> list[Finding]:
    """A set-point that has been outside the recipes' window for longer than the plant lets it be."""
    run = Run.objects.filter(line=path.line, state=Run.State.RELEASED, product_version=version).first()
    if run is None:
        return []
    found = []
    for quantity, since in outside_since_of(run).items():
        if since is None or not blocks_now(since, at, minutes):
            continue
        side = "below" if quantity == "tension" else "above"
        sentence = (
            f"Line {path.line}: {quantity} is {side} the recipes' window since {since:%d %b %H:%M} UTC. "
            f"{MEANING[quantity, side]} Bring it back, or have a person with Size test the recipes there."
        )
        found.append(Finding("outside-window", Weight.BLOCK, sentence, "a person with Size"))
    return found


def _line_blocks(
    path: WebPath, version: ProductVersion, at: datetime, settings: dict[str, float], *, running: bool
) -> list[Finding]:
    line, found = path.line, []
    if running:
        found += _outside_window(path, version, at, settings["outside_window_minutes"])
    if not line.in_use:
        found.append(Finding("line-out-of-use", Weight.BLOCK, f"Line {line} is out of use.", "the system keeper"))
    if not version.product.lines.filter(pk=line.pk).exists():
        sentence = f"{version.product} is not permitted on line {line}. Add the line to the product, or choose another."
        found.append(Finding("product-not-on-line", Weight.BLOCK, sentence, "the process engineer"))
    if not version.current:
        sentence = f"Version {version.number} of the data of {version.product} is not the newest. Plan the run again."
        found.append(Finding("old-product-data", Weight.BLOCK, sentence, "the shift supervisor"))
    return found

"""Short words for the acts of the story; each calls the services that the screens call."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from plant.audit.services import Confirmation
from plant.floor.models import PathStep, Run
from plant.floor.queries import current_version
from plant.people.models import Person
from plant.people.queries import role_words, roles_of
from rollers.access import mounting_at
from rollers.cases import TypedBand
from rollers.demo.week import TIME_ZONE, Week
from rollers.demo.works import Works
from rollers.models import Gauge, RecipeVersion
from rollers.queries_registry import tape_state
from rollers.rules import APPROVED, QA_APPROVED
from rollers.services.applying import apply_tape, check_tape, expected_pieces, measure_tape
from rollers.services.approving import approve_recipe, check_recipe
from rollers.services.recipes import draft_recipe
from rollers.services.removing import clean_roller, remove_tape
from rollers.services.runs import end_run, plan_run, release_run
from rollers.services.sheets import draft_sheet, sign_sheet
from rollers.services.spot import LOCKOUT

STEPS = [key for key, _ in LOCKOUT]


def signed(person: Person, at: datetime) -> Confirmation:
    """A signature of the demo. Nobody typed a secret for it, and its method says so."""
    return Confirmation(person, role_words(roles_of(person, at)), at, "demo", TIME_ZONE)


@dataclass
class World:
    """The demo while it is built."""

    week: Week
    people: dict[str, Person]
    works: Works
    gauges: dict[str, Gauge] = field(default_factory=dict)
    recipes: dict[str, RecipeVersion] = field(default_factory=dict)

    def step(self, position: str) -> PathStep:
        """How the web passes a position on the usual path of its line."""
        return PathStep.objects.get(path=self.works.paths[position[0]], position=self.works.positions[position])

    def is_on(self, position: str, *states: str) -> bool:
        """Whether a roller is in one of these states."""
        return tape_state(mounting_at(self.works.positions[position]).body) in states


def draft(
    world: World, title: str, position: str, products: list[str], tape: str, bands: list[TypedBand], at: datetime
) -> RecipeVersion:
    """The engineer writes a recipe."""
    return draft_recipe(
        step=world.step(position),
        title=title,
        products=[world.works.products[code] for code in products],
        stock=world.works.stocks[tape],
        bands=bands,
        by=world.people["dara"],
        at=at,
        note="Start value by the closed form; the trial on the line decides.",
    )


def sign_as_author(
    world: World, version: RecipeVersion, at: datetime, reasons: Mapping[str, Mapping[str, str]] | None = None
) -> None:
    """The engineer signs the computed recipe."""
    check_recipe(version, reasons=reasons or {}, confirmation=signed(world.people["dara"], at))


def approve(world: World, version: RecipeVersion, at: datetime) -> None:
    """The supervisor signs."""
    approve_recipe(version, meaning=APPROVED, confirmation=signed(world.people["hanna"], at))


def approve_as_qa(world: World, version: RecipeVersion, at: datetime) -> None:
    """QA signs, where the room asks for it."""
    approve_recipe(version, meaning=QA_APPROVED, confirmation=signed(world.people["yuki"], at))


def sheet(world: World, product: str, recipes: list[str], at: datetime) -> None:
    """The supervisor assigns recipes to a product on the usual path; all other positions are bare."""
    path = world.works.paths[next(line.code for line in world.works.products[product].lines.all())]
    versions = [RecipeVersion.objects.get(pk=world.recipes[key].pk) for key in recipes]
    choices = {version.recipe.position: version for version in versions}
    hanna = world.people["hanna"]
    drafted = draft_sheet(product=world.works.products[product], path=path, choices=choices, by=hanna, at=at)
    sign_sheet(drafted, confirmation=signed(hanna, at))


def put_on(world: World, position: str, recipe: str, by: str, at: datetime) -> None:
    """Wind tape by its recipe, under lockout."""
    version = RecipeVersion.objects.get(pk=world.recipes[recipe].pk)
    apply_tape(
        world.works.positions[position],
        version,
        step=world.step(position),
        pieces=expected_pieces(version),
        lockout=STEPS,
        lock_number=f"L-{world.people[by].staff_no}",
        by=world.people[by],
        at=at,
    )


def measure(world: World, position: str, recipe: str, by: str, at: datetime) -> None:
    """Measure the build at each taped end: the drive end a little higher, as gauges have it."""
    version = RecipeVersion.objects.get(pk=world.recipes[recipe].pk)
    builds = {}
    for band in version.bands.all():
        nominal = band.wraps * (version.stock.thickness_mm if version.stock else 0)
        builds[band.end] = round(nominal + (0.004 if band.end == "drive" else 0.0), 4)
    measure_tape(world.works.positions[position], builds=builds, by=world.people[by], at=at)


def check(world: World, position: str, recipe: str, by: str, at: datetime) -> None:
    """The second person looks."""
    version = RecipeVersion.objects.get(pk=world.recipes[recipe].pk)
    check_tape(
        world.works.positions[position],
        pieces=expected_pieces(version),
        tail_trails=True,
        by=world.people[by],
        at=at,
    )


def take_off(
    world: World, position: str, pieces: int, by: str, at: datetime, *, residue: bool = False, reason: str = ""
) -> None:
    """Take tape off, under lockout, and count it into the bag."""
    remove_tape(
        world.works.positions[position],
        pieces=pieces,
        residue=residue,
        lockout=STEPS,
        lock_number=f"L-{world.people[by].staff_no}",
        by=world.people[by],
        at=at,
        reason=reason,
    )


def clean(world: World, position: str, by: str, at: datetime) -> None:
    """Clean residue off and look."""
    agent = "isopropanol wipes, by the approved list"
    clean_roller(world.works.positions[position], agent=agent, by=world.people[by], at=at)


def plan(world: World, product: str, by: str, at: datetime, starts_at: datetime) -> Run:
    """Plan a product on the usual path at its set-points."""
    version = current_version(world.works.products[product])
    line = version.product.lines.get()
    return plan_run(
        path=world.works.paths[line.code],
        version=version,
        tension_n_per_m=version.tension_set_n_per_m,
        speed_m_per_min=version.speed_set_m_per_min,
        starts_at=starts_at,
        by=world.people[by],
        at=at,
    )


def stop(world: World, line: str, by: str, at: datetime) -> None:
    """End the run of a line, where one is going on."""
    for run in Run.objects.filter(line=world.works.lines[line], state=Run.State.RELEASED):
        end_run(run, by=world.people[by], at=at)


def start(world: World, product: str, by: str, at: datetime) -> None:
    """Plan a product and release it."""
    release_run(plan(world, product, by, at, at), confirmation=signed(world.people[by], at))


def running(world: World, line: str) -> str:
    """The product that is released on a line, or nothing."""
    run = Run.objects.filter(line=world.works.lines[line], state=Run.State.RELEASED).first()
    return run.product_version.product.code if run else ""

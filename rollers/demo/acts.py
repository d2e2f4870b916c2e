"""Short words for the acts of the story; each calls the services that the screens call."""

import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw

from plant.audit.services import Confirmation
from plant.audit.services.attaching import keep_photo
from plant.floor.models import PathStep, Position, Run
from plant.floor.queries import current_version
from plant.people.models import Person
from plant.people.queries import role_words, roles_of
from rollers.access import mounting_at
from rollers.cases import TypedBand
from rollers.demo import hands
from rollers.demo.week import TIME_ZONE, Week
from rollers.demo.works import Works
from rollers.models import Gauge, Hold, RecipeVersion, Reel, TapeFact
from rollers.models.tape import TapeState
from rollers.queries_application import missing_pieces
from rollers.queries_registry import tape_state
from rollers.queries_store import usable_reels
from rollers.rules import APPROVED, QA_APPROVED
from rollers.services.applying import expected_pieces
from rollers.services.approving import approve_recipe, check_recipe
from rollers.services.checking import check_tape
from rollers.services.holds import close_hold, decide_roll
from rollers.services.looking import record_look
from rollers.services.pieces import find_piece
from rollers.services.recipes import draft_recipe
from rollers.services.restarting import record_restart
from rollers.services.rolls import record_roll
from rollers.services.runs import end_run, plan_run, release_run
from rollers.services.sheets import draft_sheet, sign_sheet


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
    """Lock out, prepare the face, wind tape by its recipe."""
    version, person = _of(world, recipe), world.people[by]
    place = world.works.positions[position]
    hands.begin(place, version, step=world.step(position), by=person, at=at, lock=_lock(world, by))
    hands.prepare(place, by=person, at=at)
    reel = usable_reel(world, place, version, at)
    hands.wind(place, version, reel, step=world.step(position), by=person, at=at)


def _of(world: World, recipe: str) -> RecipeVersion:
    return RecipeVersion.objects.select_related("stock", "recipe__position").get(pk=world.recipes[recipe].pk)


def _lock(world: World, who: str) -> str:
    return f"L-{world.people[who].staff_no}"


def usable_reel(world: World, place: Position, version: RecipeVersion, at: datetime) -> Reel:
    """A reel of the recipe's tape that may be used in the room."""
    good = [now.reel for now in usable_reels(place, at) if now.reel.lot.stock_id == version.stock_id]
    if not good:
        raise ValueError(f"no reel of {version.stock} is in room {place.room} of the demo")
    return good[0]


def measure(world: World, position: str, recipe: str, by: str, at: datetime) -> None:
    """Measure the build at each taped end (the drive end a little higher, as gauges have it), count, lock off."""
    version, place = _of(world, recipe), world.works.positions[position]
    builds = hands.builds_of(version, drive_more_mm=0.004)
    hands.measure(place, version, by=world.people[by], at=at, builds=builds)
    hands.count_and_unlock(place, by=world.people[by], at=at)


def check(world: World, position: str, recipe: str, by: str, at: datetime) -> None:
    """The second person looks."""
    pieces = expected_pieces(_of(world, recipe))
    place = world.works.positions[position]
    check_tape(place, pieces=pieces, tail_trails=True, by=world.people[by], at=at)


def restart(world: World, position: str, by: str, at: datetime, grades: tuple[int, int, int], before: int) -> None:
    """The three steps of the slow restart, of which the last is over at a moment."""
    place = world.works.positions[position]
    run = Run.objects.get(line=place.line, state=Run.State.RELEASED)
    speed = run.speed_m_per_min
    steps = (
        ("crawl", min(30.0, speed), 2.0, 36),
        ("half", max(speed / 2, min(30.0, speed)), 5.0, 31),
        ("full", speed, 30.0, 0),
    )
    for (step, now, minutes, ago), grade in zip(steps, grades, strict=True):
        record_restart(
            place,
            step=step,
            speed=now,
            minutes=minutes,
            grade=grade,
            grade_before=before if step == "crawl" else None,
            downstream=True,
            by=world.people[by],
            at=at - timedelta(minutes=ago),
        )


def take_off(world: World, position: str, by: str, at: datetime, *, residue: bool = False, reason: str = "") -> None:
    """Take all tape off, under lockout, piece by piece into the bag."""
    hands.remove(
        world.works.positions[position],
        by=world.people[by],
        at=at,
        residue="stays" if residue else "none",
        lock=_lock(world, by),
        reason=reason,
    )


def take_off_short(world: World, position: str, by: str, at: datetime, *, missing: int, reason: str) -> None:
    """Take tape off and find that pieces are missing."""
    place = world.works.positions[position]
    hands.remove(place, by=world.people[by], at=at, missing=missing, lock=_lock(world, by), reason=reason)


def find_missing(world: World, position: str, by: str, second: str, at: datetime, where: str) -> None:
    """A missing piece turns up: a photograph, and a second person."""
    place, person = world.works.positions[position], world.people[by]
    for piece in missing_pieces([place]):
        photo = keep_photo(picture_of_piece(), by=person, at=at, purpose=f"found piece of {position}")
        find_piece(
            piece,
            photo=photo,
            bag=hands.bag_in(place, by=person, at=at),
            second=signed(world.people[second], at),
            where=where,
            by=person,
            at=at,
        )


def wind_rolls(
    world: World, line: str, by: str, at: datetime, *, back_to: datetime, each: timedelta, length_m: float, count: int
) -> None:
    """Finished rolls of the run that goes on, one after the other."""
    place = next(position.line for code, position in world.works.positions.items() if code.startswith(line))
    for number in range(count):
        began = back_to + number * each
        record_roll(
            place,
            number=f"{line}-{began:%d%H%M}",
            began_at=began,
            ended_at=began + each,
            length_m=length_m,
            by=world.people[by],
            at=at,
        )


def decide_hold(world: World, line: str, at: datetime, *, released: int) -> None:
    """QA decides about each held roll by itself: the first are released, the others rejected; then closes the hold."""
    qa = signed(world.people["yuki"], at)
    for hold in Hold.objects.filter(line__code=line, closed_at=None, opened_at__lte=at):
        for number, held in enumerate(hold.rolls.order_by("pk")):
            if number < released:
                decide_roll(held, decision="released", reason="Rewound and looked at, whole width.", confirmation=qa)
            else:
                decide_roll(held, decision="rejected", reason="Cannot be looked through: scrapped.", confirmation=qa)
        close_hold(hold, reason="The piece was found in the edge-trim bag, photo kept.", confirmation=qa)


def picture_of_piece() -> SimpleUploadedFile:
    """A drawn stand-in for the photograph: a strip of tape beside a rule."""
    picture = Image.new("RGB", (640, 360), "#d9d4c8")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((40, 60, 600, 120), fill="#f4f1e6", outline="#444444")
    for tick in range(0, 561, 28):
        draw.line((40 + tick, 120, 40 + tick, 100 if tick % 140 else 88), fill="#444444", width=2)
    draw.polygon([(120, 200), (520, 190), (524, 240), (118, 252)], fill="#2f6db5")
    out = io.BytesIO()
    picture.save(out, "PNG")
    return SimpleUploadedFile("piece.png", out.getvalue(), "image/png")


def look(world: World, position: str, by: str, at: datetime) -> None:
    """Look at tape that is on: fine."""
    place = world.works.positions[position]
    fact = TapeFact.objects.filter(body=mounting_at(place).body).latest("pk")
    if fact.state == TapeState.TAPED:
        record_look(place, result="ok", defects=(), pieces_seen=fact.pieces, by=world.people[by], at=at)


def clean(world: World, position: str, by: str, at: datetime) -> None:
    """Clean residue off and look."""
    hands.clean(world.works.positions[position], by=world.people[by], at=at, lock=_lock(world, by))


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

"""A small line in the food room for the tests of the desk screens, set up through the services."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from plant.floor.models import Position, ProductVersion, WebPath
from rollers.cases import TypedBand
from rollers.demo import hands
from rollers.models import RecipeVersion, TapeFact, TapeStock
from rollers.services import approving, recipes, sheets
from rollers.services.checking import check_tape
from tests import make

BOTH = [TypedBand("operator", 640, 840, 1), TypedBand("drive", 640, 840, 1)]
ONE = [TypedBand("operator", 700, 850, 1)]


@dataclass
class Coating:
    """Line B: two idlers and a nip, a film that takes tape on both idlers and a paper that runs bare."""

    cast: Any
    path: WebPath
    b04: Position
    b09: Position
    b11: Position
    film: ProductVersion
    paper: ProductVersion
    tape: TapeStock

    def drafted(self, **changes: Any) -> RecipeVersion:
        """A draft by the engineer for B09 and the film."""
        asked = {
            "step": self.path.steps.get(position=self.b09),
            "title": "BOPP",
            "products": [self.film.product],
            "stock": self.tape,
            "bands": BOTH,
            "by": self.cast.dara,
            "at": make.AT,
        }
        return recipes.draft_recipe(**asked | changes)

    def checked(self, **changes: Any) -> RecipeVersion:
        """A draft signed by its author."""
        return approving.check_recipe(
            self.drafted(**changes), reasons={}, confirmation=make.confirmation(self.cast.dara)
        )

    def in_force(self, **changes: Any) -> RecipeVersion:
        """Signed by everybody the food room asks for."""
        version = self.checked(**changes)
        approving.approve_recipe(version, meaning="approved", confirmation=make.confirmation(self.cast.babak))
        approving.approve_recipe(version, meaning="QA approved", confirmation=make.confirmation(self.cast.yuki))
        version.refresh_from_db()
        return version

    def one_end(self) -> RecipeVersion:
        """The steering tape at B04, in force."""
        step = self.path.steps.get(position=self.b04)
        return self.in_force(step=step, title="BOPP one end", bands=ONE)

    def sheet(self, product: ProductVersion, choices: dict[Position, RecipeVersion]) -> None:
        """A signed product sheet."""
        drafted = sheets.draft_sheet(
            product=product.product, path=self.path, choices=choices, by=self.cast.hanna, at=make.AT
        )
        sheets.sign_sheet(drafted, confirmation=make.confirmation(self.cast.hanna))

    def put_on(self, position: Position, version: RecipeVersion, pieces: int) -> None:
        """Applied, measured, counted and checked by a second person."""
        early = make.AT - timedelta(minutes=20)
        reel = make.reel(self.tape, position.room)
        step = self.path.steps.get(position=position)
        hands.tape(position, version, reel, step=step, by=self.cast.tomas, at=early)
        check_tape(position, pieces=pieces, tail_trails=True, by=self.cast.babak, at=make.AT)


def on_record(position: Position, version: RecipeVersion) -> None:
    """Taped by its newest fact, without the acts that led there."""
    mounting = position.mountings.get(removed_at=None)
    TapeFact.objects.create(
        body=mounting.body,
        position=position,
        kind=TapeFact.Kind.CHECKED,
        at=make.LONG_AGO,
        recorded_at=make.LONG_AGO,
        by=version.author,
        state="taped",
        recipe_version=version,
        orientation="normal",
        rotation="cw",
        measured=True,
        checked=True,
        pieces=8,
    )


def coating(cast: Any) -> Coating:
    """Plant, room, line, rollers, products and tape."""
    make.plant()
    line = make.line("B")
    path, room = make.web_path(line), make.room("F1", "food")
    sizes = {"path": path, "room": room, "face_mm": 1750, "roughness_um": 25}
    b04 = make.position("B04", diameter_mm=160, wrap_deg=85, entry_span_mm=1500, **sizes)
    b09 = make.position("B09", diameter_mm=200, wrap_deg=95, entry_span_mm=1600, **sizes)
    b11 = make.position("B11", diameter_mm=200, wrap_deg=120, entry_span_mm=900, kind="nip", **sizes)
    film = make.product(
        "BO-35", line, width=1600, thickness=35, modulus=1900, tension=180, speed=220, friction=0.3, wander_mm=5
    )
    paper = make.product(
        "CP-70", line, width=1500, thickness=70, modulus=6000, tension=230, speed=200, friction=0.4, wander_mm=5
    )
    make.shift(cast.babak, cast.tomas, cast.yuki, cast.hanna)
    return Coating(cast, path, b04, b09, b11, film, paper, make.stock("T5"))

"""Rooms with rollers, products and recipes that many tests start from; recipes come through the services."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from plant.floor.models import PathStep, Position, Product, ProductVersion, WebPath
from plant.people.models import Person
from rollers.access import mounting_at
from rollers.cases import TypedBand
from rollers.demo import hands
from rollers.models import Decision, ProductSheet, RecipeVersion, Reel, TapeFact, TapeStock
from rollers.queries_application import open_application
from rollers.rules_application import LOCKOUT
from rollers.services.applying import expected_pieces
from rollers.services.approving import approve_recipe, check_recipe
from rollers.services.checking import check_tape
from rollers.services.recipes import draft_recipe
from rollers.services.removing import begin_removal, finish_removal, stop_removal
from rollers.services.sheets import draft_sheet, sign_sheet
from tests import make
from tests.conftest import Cast

STEPS = [key for key, _ in LOCKOUT]
FILMS = {"thickness": 20, "modulus": 2000, "tension": 120, "speed": 250, "friction": 0.3}


def both(inner: float, outer: float, wraps: int) -> list[TypedBand]:
    return [TypedBand("operator", inner, outer, wraps), TypedBand("drive", inner, outer, wraps)]


@dataclass
class Scene:
    """A line with one path; what stands on it is found by code."""

    cast: Cast
    path: WebPath
    versions: dict[str, ProductVersion]

    def __getitem__(self, code: str) -> Position:
        return Position.objects.select_related("line", "room").get(code=code)

    def step(self, code: str) -> PathStep:
        return self.path.steps.select_related("position__line", "position__room").get(position__code=code)

    def product(self, code: str) -> Product:
        return self.versions[code].product

    def draft(
        self,
        code: str,
        products: list[str],
        tape: TapeStock | None,
        bands: list[TypedBand],
        *,
        title: str = "tape",
        by: Person | None = None,
    ) -> RecipeVersion:
        Decision.objects.create(
            position=self[code], answer=Decision.Answer.TAPE, reason="walked", at=make.LONG_AGO, by=self.cast.dara
        )
        return draft_recipe(
            step=self.step(code),
            title=title,
            products=[self.product(product) for product in products],
            stock=tape,
            bands=bands,
            by=by or self.cast.dara,
            at=make.AT,
        )

    def signed(self, version: RecipeVersion, reasons: Mapping[str, Mapping[str, str]] | None = None) -> RecipeVersion:
        return check_recipe(version, reasons=reasons or {}, confirmation=make.confirmation(version.author))

    def approved(self, version: RecipeVersion, *, qa: bool = False) -> RecipeVersion:
        version = approve_recipe(version, meaning="approved", confirmation=make.confirmation(self.cast.hanna))
        if qa:
            version = approve_recipe(version, meaning="QA approved", confirmation=make.confirmation(self.cast.yuki))
        return version

    def recipe(
        self, code: str, products: list[str], tape: TapeStock | None, bands: list[TypedBand], *, title: str = "tape"
    ) -> RecipeVersion:
        """A recipe that needs no reason, in force."""
        strict = self[code].room.classes.get().kind != "general"
        return self.approved(self.signed(self.draft(code, products, tape, bands, title=title)), qa=strict)

    def sheet(self, product: str, **choices: RecipeVersion) -> ProductSheet:
        """A product sheet in force: these positions by these recipes, all others bare."""
        drafted = draft_sheet(
            product=self.product(product),
            path=self.path,
            choices={self[code]: version for code, version in choices.items()},
            by=self.cast.hanna,
            at=make.AT,
        )
        return sign_sheet(drafted, confirmation=make.confirmation(self.cast.hanna))

    def reel(self, code: str, version: RecipeVersion) -> Reel:
        """A reel of the recipe's tape in the room of a roller."""
        assert version.stock is not None
        there = Reel.objects.filter(lot__stock=version.stock, moves__room=self[code].room).first()
        return there or make.reel(version.stock, self[code].room)

    def begin(self, code: str, version: RecipeVersion, *, by: Person, at: datetime | None = None) -> None:
        """The job begun and locked out."""
        hands.begin(self[code], version, step=self.step(code), by=by, at=at or start(self[code]))

    def wind(self, code: str, version: RecipeVersion, *, by: Person, at: datetime | None = None) -> TapeFact:
        """Locked out, the face prepared, every lane wound; not measured yet, the lock still on."""
        at = at or start(self[code])
        self.begin(code, version, by=by, at=at)
        hands.prepare(self[code], by=by, at=at)
        return hands.wind(self[code], version, self.reel(code, version), step=self.step(code), by=by, at=at)

    def tape(
        self,
        code: str,
        version: RecipeVersion,
        *,
        by: Person,
        checker: Person | None = None,
        at: datetime | None = None,
    ) -> TapeFact:
        """Tape on a roller by the full form, the lock off: measured and counted, and checked where one is named."""
        at = at or start(self[code])
        fact = hands.tape(self[code], version, self.reel(code, version), step=self.step(code), by=by, at=at)
        if checker is not None:
            pieces = expected_pieces(version)
            fact = check_tape(self[code], pieces=pieces, tail_trails=True, by=checker, at=max(make.AT, fact.at))
        return fact

    def remove(self, code: str, *, by: Person, at: datetime | None = None, **fields: Any) -> TapeFact:
        """Everything off by the full form, the lock off again."""
        return hands.remove(self[code], by=by, at=at or now(self[code]), **fields)

    def take_off(
        self,
        code: str,
        pieces: int,
        *,
        by: Person,
        end: str = "",
        at: datetime | None = None,
        residue: bool = False,
    ) -> TapeFact:
        """So many pieces off into the bag, under lockout; then left off where some are still on."""
        at, position = at or now(self[code]), self[code]
        hands.lock_out(position, "remove", by=by, at=at)
        body = mounting_at(position).body
        open_job = open_application(body)
        if open_job is None or open_job.state != "removing":
            begin_removal(position, by=by, at=at)
        keys = hands.first_pieces(position, pieces, end=end)
        fact = hands.take_pieces(position, keys, by=by, at=at, extra=pieces - len(keys))
        if fact.pieces:
            open_job = open_application(body)
            if open_job is not None and open_job.state == "removing":
                fact = stop_removal(position, reason="the rest later", by=by, at=at)
        else:
            left = "stays" if residue else "none"
            fact = finish_removal(position, residue=left, agent="", surface_ok=not residue, by=by, at=at)
        hands.lock_off(position, by=by, at=at)
        return fact


def now(position: Position) -> datetime:
    """The fixed moment of the tests, or that of the newest fact where it lies later."""
    newest = TapeFact.objects.filter(body__mountings__position=position).order_by("-pk").first()
    return max(make.AT, newest.at) if newest else make.AT


def start(position: Position) -> datetime:
    """So early that tape has rested at the fixed moment, but not before what is on record."""
    newest = TapeFact.objects.filter(body__mountings__position=position).order_by("-pk").first()
    early = make.AT - timedelta(minutes=20)
    return max(early, newest.at) if newest else early


def line_a(cast: Cast) -> Scene:
    """A stretch film line in a general room: A01 chill, A05 and A08 idlers."""
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    make.position("A01", path=path, room=room, diameter_mm=250, wrap_deg=180, entry_span_mm=800, kind="chill")
    make.position("A05", path=path, room=room, rotation="cw")
    make.position("A08", path=path, room=room, wrap_deg=80, entry_span_mm=900, rotation="ccw")
    versions = {
        "SF-17": make.product(
            "SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35
        ),
        "SF-23": make.product(
            "SF-23", line, width=1500, thickness=23, modulus=130, tension=65, speed=260, friction=0.35
        ),
        "SF-30": make.product(
            "SF-30", line, width=1000, thickness=30, modulus=150, tension=80, speed=220, friction=0.35
        ),
    }
    make.shift(cast.ines, cast.dara, cast.hanna, cast.yuki)
    return Scene(cast, path, versions)


def line_b(cast: Cast) -> Scene:
    """A coating line in a food room: B04, B09 and B12 idlers, B11 nip."""
    make.plant()
    line, room = make.line("B"), make.room("F1", "food")
    path = make.web_path(line)
    roller = {"path": path, "room": room, "face_mm": 1750, "roughness_um": 25}
    make.position("B04", diameter_mm=160, wrap_deg=85, entry_span_mm=1500, **roller)
    make.position("B09", diameter_mm=200, wrap_deg=95, entry_span_mm=1600, rotation="ccw", **roller)
    make.position("B11", diameter_mm=200, wrap_deg=120, entry_span_mm=900, kind="nip", **roller)
    make.position("B12", diameter_mm=160, wrap_deg=60, entry_span_mm=1100, **roller)
    versions = {
        "BO-20": make.product("BO-20", line, width=1600, **FILMS),
        "BO-35": make.product(
            "BO-35", line, width=1600, thickness=35, modulus=1900, tension=180, speed=220, friction=0.3
        ),
        "CP-70": make.product(
            "CP-70", line, width=1500, thickness=70, modulus=6000, tension=230, speed=200, friction=0.4
        ),
        "CP-110": make.product(
            "CP-110", line, width=1300, thickness=110, modulus=5500, tension=300, speed=180, friction=0.4
        ),
    }
    make.shift(cast.tomas, cast.yuki, cast.hanna, cast.dara)
    return Scene(cast, path, versions)


def taped_b(cast: Cast) -> tuple[Scene, RecipeVersion, RecipeVersion]:
    """Line B as it runs BO-35: B09 both ends, B04 operator end, checked; sheets for BO-35, BO-20 and CP-70."""
    scene = line_b(cast)
    nine = scene.recipe("B09", ["BO-20", "BO-35"], make.stock("T5"), both(640, 840, 1))
    four = scene.recipe("B04", ["BO-35"], make.stock("T5"), [TypedBand("operator", 700, 850, 1)])
    scene.sheet("BO-35", B09=nine, B04=four)
    scene.sheet("BO-20", B09=nine)
    scene.sheet("CP-70")
    scene.tape("B09", nine, by=cast.tomas, checker=cast.yuki)
    scene.tape("B04", four, by=cast.tomas, checker=cast.yuki)
    return scene, nine, four


def line_c(cast: Cast) -> Scene:
    """A pouch line in a medical room: C06 and C07 idlers."""
    make.plant()
    line, room = make.line("C"), make.room("M1", "medical")
    path = make.web_path(line)
    roller = {"path": path, "room": room, "face_mm": 800, "roughness_um": 25}
    make.position("C06", diameter_mm=150, wrap_deg=110, entry_span_mm=900, **roller)
    make.position("C07", diameter_mm=100, wrap_deg=70, entry_span_mm=500, rotation="ccw", **roller)
    versions = {
        "ML-62": make.product(
            "ML-62", line, width=640, thickness=62, modulus=1030, tension=110, speed=100, friction=0.3
        ),
        "MN-160": make.product(
            "MN-160", line, width=640, thickness=160, modulus=800, tension=180, speed=100, friction=0.35
        ),
        "MP-75": make.product(
            "MP-75", line, width=600, thickness=75, modulus=4000, tension=150, speed=100, friction=0.4
        ),
    }
    make.shift(cast.mei, cast.yuki, cast.hanna)
    return Scene(cast, path, versions)

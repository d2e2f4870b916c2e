"""The recipes and product sheets with which the works went live."""

from datetime import datetime

from rollers.cases import TypedBand
from rollers.demo.acts import World, approve, approve_as_qa, draft, sheet, sign_as_author
from rollers.models import Band, RecipeVersion

BOTH = (Band.End.OPERATOR, Band.End.DRIVE)
Row = tuple[str, str, list[str], str, int, tuple[str, ...], float, float]
# Position, title, products, tape, wraps, ends, inner and outer edge in mm from the roller centre.
A05: Row = ("A05", "Stretch films", ["SF-17", "SF-23", "SF-30"], "T1", 4, BOTH, 600, 792)
AT_GO_LIVE: dict[str, Row] = {
    "B09": ("B09", "BOPP films", ["BO-20", "BO-35"], "T5", 1, BOTH, 640, 840),
    "B04": ("B04", "Matt film, operator end", ["BO-35"], "T5", 1, (Band.End.OPERATOR,), 700, 850),
    "C06": ("C06", "Pouch webs", ["ML-62"], "T5", 1, BOTH, 256, 356),
    "D04": ("D04", "Unsintered PTFE", ["PT-100"], "T5", 1, BOTH, 120, 170),
}
STRICT = ("B", "C")
# Which recipes a product runs with; all other positions are bare.
SHEETS: dict[str, list[str]] = {
    "SF-17": [],
    "SF-23": [],
    "SF-30": [],
    "BO-20": ["B09"],
    "BO-35": ["B09", "B04"],
    "CP-70": [],
    "CP-110": [],
    "ML-62": ["C06"],
    "MP-75": [],
    "PT-100": ["D04"],
    "PT-50": [],
}
LID_REASON = "Kept at one wrap so that pouch webs and lids run on the same tape; the edge is watched at the first roll."


def bands_of(row: Row) -> list[TypedBand]:
    """The bands of a recipe."""
    _, _, _, _, wraps, ends, inner, outer = row
    return [TypedBand(end, inner, outer, wraps) for end in ends]


def draft_row(world: World, row: Row, at: datetime) -> RecipeVersion:
    """The engineer drafts a recipe."""
    position, title, products, tape, *_ = row
    return draft(world, title, position, products, tape, bands_of(row), at)


def author_and_approve(world: World) -> None:
    """The recipes that go on paper before the first tape goes on a roller, and a sheet for each product but one."""
    at = world.week.at
    for key, row in AT_GO_LIVE.items():
        world.recipes[key] = draft_row(world, row, at(-18, "10:00"))
    for version in world.recipes.values():
        sign_as_author(world, version, at(-18, "10:20"))
    for version in world.recipes.values():
        approve(world, version, at(-18, "11:00"))
    for key, version in world.recipes.items():
        if key[0] in STRICT:
            approve_as_qa(world, version, at(-18, "13:00"))
    for product, recipes in SHEETS.items():
        sheet(world, product, recipes, at(-17, "09:00"))


def propose_lid(world: World) -> None:
    """The lid's edge ratio is past the caution limit: a second person with Size has to sign, and there is none yet.

    It stays open. The next version of the recipe would serve both products with the same tape.
    """
    at = world.week.at
    position, title, products, tape, wraps, ends, inner, outer = AT_GO_LIVE["C06"]
    both: Row = (position, title, [*products, "MN-160"], tape, wraps, ends, inner, outer)
    version = draft_row(world, both, at(-4, "10:00"))
    sign_as_author(world, version, at(-4, "10:30"), {"MN-160": {"edge_ratio": LID_REASON}})
    approve(world, version, at(-4, "11:00"))
    approve_as_qa(world, version, at(-4, "13:00"))

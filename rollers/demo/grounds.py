"""What the tape of the other lines rests on: a walk, a cause sheet and a decision for each of its rollers."""

from datetime import datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from plant.floor.models import PathStep
from plant.floor.queries import current_version
from plant.web.quantities import Typed
from rollers.causes.causerows import rows_for
from rollers.causes.demo import MEASURED
from rollers.causes.services.deciding import decide
from rollers.causes.services.sheets import check_cause, close_sheet, open_sheet, skip_cause
from rollers.causes.services.sightings import report_sighting
from rollers.causes.services.walks import conclude_walk, record_look, start_walk
from rollers.demo.acts import World

# Position, product of the walk, products decided for, ends, lane and direction of the wrinkle that was seen.
RESTS_ON = (
    ("B09", "BO-35", ("BO-20", "BO-35"), "both", "centre", "md"),
    ("B04", "BO-35", ("BO-35",), "operator", "operator", "toward-drive"),
    ("C06", "ML-62", ("ML-62", "MN-160"), "both", "centre", "md"),
    ("D04", "PT-100", ("PT-100",), "both", "centre", "md"),
)


def ground(world: World, at: datetime) -> None:
    """The engineer walks each line, checks the causes and decides, before the tape goes on."""
    for row in RESTS_ON:
        _one(world, *row, at=at)


def _one(
    world: World, code: str, product: str, products: tuple[str, ...], ends: str, lane: str, way: str, *, at: datetime
) -> None:
    place, dara = world.works.positions[code], world.people["dara"]
    version, path = current_version(world.works.products[product]), world.works.paths[code[0]]
    steps = PathStep.objects.filter(path=path).select_related("position").order_by("-order")
    upstream = [step.position for step in steps if step.position.order <= place.order]

    def key(*parts: object) -> UUID:
        return uuid5(NAMESPACE_URL, "/".join(["tarn-hollow/ground", code, *map(str, parts), at.isoformat()]))

    if len(upstream) > 1:
        report_sighting(
            place.line,
            key=key("seen"),
            grade=3,
            after=upstream[1],
            before=place,
            lane=lane,
            direction=way,
            by=dara,
            at=at,
        )
    walk = start_walk(path, key=key("walk"), product_version=version, starts_from=place, by=dara, at=at)
    for position in upstream:
        seen = "crease" if position == place else "clean"
        record_look(walk, position, key=key("look", position.code), seen=seen, by=dara, at=at)
    conclude_walk(walk, by=dara, at=at)
    sheet = open_sheet(place, version, walk=walk, by=dara, at=at)
    for cause in rows_for(version.product.family):
        if cause.code in MEASURED:
            figure, unit = MEASURED[cause.code]
            gauge = world.gauges.get("LV-1") if cause.code == "misalignment" else None
            check_cause(sheet, cause.code, value=Typed(figure, unit), gauge=gauge, by=dara, at=at)
        else:
            skip_cause(sheet, cause.code, reason="No gauge for it on that day", by=dara, at=at)
    close_sheet(sheet, by=dara, at=at)
    decide(
        place,
        products=[world.works.products[name] for name in products],
        answer="tape",
        ends=ends,
        reason="The first roller with the crease; every measured cause passes, and the wrinkle stays.",
        by=dara,
        at=at,
    )

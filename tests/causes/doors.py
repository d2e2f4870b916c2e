"""One of everything about causes, for tests that open every address."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from plant.floor.models import Position, ProductVersion, WebPath
from plant.people.models import Person
from rollers.causes.models import WalkResult
from rollers.causes.services.orders import order_work
from rollers.causes.services.sheets import open_sheet
from rollers.causes.services.studies import plan_study
from rollers.causes.services.walks import start_walk

ANSWER = {
    "kind": "roller",
    "sentence": "A05 starts it.",
    "agreement": "",
    "looks": {},
    "chances": {},
    "candidates": [],
    "contradictions": [],
    "hints": [],
    "look_again": [],
    "ranking": [],
}


def cause_rows(position: Position, version: ProductVersion, path: WebPath, by: Person, at: datetime) -> dict[str, Any]:
    """A walk that names the roller, an open sheet with an order, a planned study."""
    walk = start_walk(path, key=uuid4(), product_version=version, starts_from=position, by=by, at=at)
    WalkResult.objects.create(walk=walk, first=position, sureness=0.9, answer=ANSWER, calcs_version="1", at=at, by=by)
    sheet = open_sheet(position, version, by=by, at=at)
    day = timedelta(days=1)
    study = plan_study(
        position,
        product=version.product,
        measure="wrinkles",
        what="T1 x 4",
        before=(at - day, at),
        after=(at, at + day),
        by=by,
        at=at,
    )
    order = order_work(sheet, "align", by=by, at=at)
    return {"walk": walk.pk, "cause-sheet": sheet.pk, "order": order.pk, "study": study.pk}

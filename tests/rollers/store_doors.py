"""Who may open which address of the store, and the rows that the addresses name."""

from datetime import timedelta
from random import Random
from typing import Any

from plant.people.models import Person, Role
from rollers.services.bags import open_bag
from rollers.services.counting import record_count
from rollers.services.knives import enter_knife
from tests import make
from tests.rollers.store import AT, Store, put_on, ran, rolled

EVERYONE = frozenset(Role)
INSIDERS = EVERYONE - {Role.GUEST}
KEEPERS = frozenset({Role.STOREKEEPER, Role.QA})
POSTED = None
LOT, REEL = {"pk": "lot"}, {"label": "reel"}

STORE_DOORS: dict[str, tuple[dict[str, Any], frozenset[str] | None]] = {
    "rollers:store": ({}, EVERYONE),
    "rollers:find-label": ({}, POSTED),
    "rollers:lots": ({}, EVERYONE),
    "rollers:receive-lot": ({}, KEEPERS),
    "rollers:unlabelled-reel": ({}, KEEPERS),
    "rollers:lot": (LOT, EVERYONE),
    "rollers:measure-lot": (LOT, KEEPERS | {Role.ENGINEER}),
    "rollers:release-lot": (LOT, POSTED),
    "rollers:hold-lot": (LOT, KEEPERS | {Role.ENGINEER, Role.SUPERVISOR}),
    "rollers:more-reels": (LOT, KEEPERS),
    "rollers:use-up-lot": (LOT, POSTED),
    "rollers:recall-lot": (LOT, KEEPERS | {Role.SUPERVISOR}),
    "rollers:reel": (REEL, EVERYONE),
    "rollers:reel-act": (REEL | {"act": "issue"}, KEEPERS),
    "rollers:bag": ({"label": "bag"}, EVERYONE),
    "rollers:room-ledgers": ({}, EVERYONE),
    "rollers:room-ledger": ({"code": "G1"}, EVERYONE),
    "rollers:knives": ({}, EVERYONE),
    "rollers:knife-act": ({"number": "knife", "act": "out"}, INSIDERS),
    "rollers:counts": ({}, EVERYONE),
    "rollers:count": ({"pk": "count"}, EVERYONE),
    "rollers:close-count": ({"pk": "count"}, POSTED),
    "rollers:new-count": ({"scope": "room", "key": "G1"}, INSIDERS),
    "rollers:recalls": ({}, EVERYONE),
    "rollers:recall-page": (LOT, EVERYONE),
    "rollers:recall-tree": (LOT, EVERYONE),
    "rollers:lift-recall": (LOT, frozenset({Role.QA})),
    "rollers:hold-recalled": (LOT | {"application": "taping"}, POSTED),
    "rollers:recall-drill": (LOT | {"act": "begin"}, POSTED),
    "rollers:rolls": ({}, EVERYONE),
    "rollers:new-roll": ({}, frozenset({Role.OPERATOR, Role.SUPERVISOR, Role.ENGINEER, Role.QA})),
    "rollers:roll": ({"number": "roll"}, EVERYONE),
}


def store_rows(cast: Any, position: Any, by: Person) -> dict[str, Any]:
    """A lot with a reel and a taping, a roll over it, a knife, a bag and a count."""
    keeper = make.person("Edda Solberg", "storekeeper")
    store = Store(cast, keeper, Random(1))
    lot = store.released("2602-B", store.stock("T5"), (10,))
    reel = store.reel(lot)
    taping = store.job(position, by)
    put_on(taping, reel, 2, by, AT)
    rolled(ran(position, "ROLLED", AT, AT + timedelta(hours=2)), "A-0001", AT, 60)
    knife = enter_knife("K-1", snap_off=False, by=keeper, at=AT)
    bag = open_bag(position.room, by=by, at=AT, random=Random(1))
    count = record_count("application", str(taping.pk), counted={f"taping:{taping.pk}": 2}, by=by, at=AT)
    return {
        "lot": lot.pk,
        "reel": reel.label,
        "taping": taping.pk,
        "roll": "A-0001",
        "knife": knife.number,
        "bag": bag.label,
        "count": count.pk,
    }

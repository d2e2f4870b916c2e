from rollers.causes.models.exposure import Exposure
from rollers.causes.models.order import Order
from rollers.causes.models.remark import Remark
from rollers.causes.models.sheet import CauseEntry, CauseSheet
from rollers.causes.models.sighting import Sighting
from rollers.causes.models.study import Study, StudyResult
from rollers.causes.models.walk import Walk, WalkLook, WalkResult

__all__ = [
    "CauseEntry",
    "CauseSheet",
    "Exposure",
    "Order",
    "Remark",
    "Sighting",
    "Study",
    "StudyResult",
    "Walk",
    "WalkLook",
    "WalkResult",
]

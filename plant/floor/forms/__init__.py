"""Shapes of what the floor's pages ask for. Rules are the services' business."""

from plant.floor.forms.building import (
    LineForm,
    PathForm,
    PlantForm,
    PositionForm,
    ReclassifyForm,
    RoomForm,
    StepForm,
    ZoneSet,
)
from plant.floor.forms.products import NewProductForm, ProductForm, ReviseProductForm
from plant.floor.forms.shifts import CrewForm, PatternSet, PlanShiftsForm

__all__ = [
    "CrewForm",
    "LineForm",
    "NewProductForm",
    "PathForm",
    "PatternSet",
    "PlanShiftsForm",
    "PlantForm",
    "PositionForm",
    "ProductForm",
    "ReclassifyForm",
    "ReviseProductForm",
    "RoomForm",
    "StepForm",
    "ZoneSet",
]

from plant.floor.models.line import Line, TensionZone
from plant.floor.models.path import PathStep, WebPath
from plant.floor.models.plant import Plant
from plant.floor.models.position import Position
from plant.floor.models.product import Product, ProductVersion
from plant.floor.models.room import Room, RoomClass, RoomKind
from plant.floor.models.run import Run
from plant.floor.models.shift import Shift, ShiftPattern

__all__ = [
    "Line",
    "PathStep",
    "Plant",
    "Position",
    "Product",
    "ProductVersion",
    "Room",
    "RoomClass",
    "RoomKind",
    "Run",
    "Shift",
    "ShiftPattern",
    "TensionZone",
    "WebPath",
]

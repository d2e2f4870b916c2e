from rollers.models.application import Application
from rollers.models.block import Block, Override
from rollers.models.body import Body, Mounting
from rollers.models.calculation import Calculation, LimitSet
from rollers.models.control import ControlSet
from rollers.models.decision import Decision
from rollers.models.gauge import Calibration, Gauge, Measurement
from rollers.models.hold import HeldRoll, Hold
from rollers.models.importing import ImportBatch
from rollers.models.line_event import Handover, ReCheck, Roll, SetPoint
from rollers.models.lockout import Lockout
from rollers.models.lot import Bag, Knife, KnifeMove, Lot, LotAct, Piece, PieceFact, Reconciliation, Reel, ReelMove
from rollers.models.recipe import Band, Recipe, RecipeProduct, RecipeVersion
from rollers.models.release import Release, RunCheck
from rollers.models.sheet import ProductSheet, SheetLine
from rollers.models.stock import TapeStock
from rollers.models.survey import Survey
from rollers.models.tape import TapeFact
from rollers.models.task import Alert, Deviation, Task

__all__ = [
    "Alert",
    "Application",
    "Bag",
    "Band",
    "Block",
    "Body",
    "Calculation",
    "Calibration",
    "ControlSet",
    "Decision",
    "Deviation",
    "Gauge",
    "Handover",
    "HeldRoll",
    "Hold",
    "ImportBatch",
    "Knife",
    "KnifeMove",
    "LimitSet",
    "Lockout",
    "Lot",
    "LotAct",
    "Measurement",
    "Mounting",
    "Override",
    "Piece",
    "PieceFact",
    "ProductSheet",
    "ReCheck",
    "Recipe",
    "RecipeProduct",
    "RecipeVersion",
    "Reconciliation",
    "Reel",
    "ReelMove",
    "Release",
    "Roll",
    "RunCheck",
    "SetPoint",
    "SheetLine",
    "Survey",
    "TapeFact",
    "TapeStock",
    "Task",
]

from rollers.models.body import Body, Mounting
from rollers.models.calculation import Calculation, LimitSet
from rollers.models.gauge import Calibration, Gauge, Measurement
from rollers.models.importing import ImportBatch
from rollers.models.recipe import Band, Recipe, RecipeProduct, RecipeVersion
from rollers.models.release import Release, RunCheck
from rollers.models.sheet import ProductSheet, SheetLine
from rollers.models.stock import TapeStock
from rollers.models.survey import Survey
from rollers.models.tape import TapeFact

__all__ = [
    "Band",
    "Body",
    "Calculation",
    "Calibration",
    "Gauge",
    "ImportBatch",
    "LimitSet",
    "Measurement",
    "Mounting",
    "ProductSheet",
    "Recipe",
    "RecipeProduct",
    "RecipeVersion",
    "Release",
    "RunCheck",
    "SheetLine",
    "Survey",
    "TapeFact",
    "TapeStock",
]

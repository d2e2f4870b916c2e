"""Statistics of a question: how hard it is, and whether it tells those who know from those who do not.

Difficulty is the share of right answers. Discrimination is the point-biserial correlation (Pearson's correlation of
a 0/1 variable with a score) of the answer with the rest of the paper: the question itself is left out of the score,
or a short paper would agree with itself. The bands of the words follow Ebel and Frisbie, Essentials of Educational
Measurement (from memory, not checked): 0.40 and more very good, 0.30 good, 0.20 to be looked at, below that poor.
Fewer than thirty answers say too little (our own default), so nothing is shown.
"""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import stats

ENOUGH = 30
BANDS = ((0.40, "tells very well"), (0.30, "tells well"), (0.20, "look at it again"))
POOR = "does not tell: reword or retire"
ALL_ALIKE = "everybody answered alike: it tells nothing"


@dataclass(frozen=True)
class ItemFigures:
    """What is shown of a question; empty figures where there are too few answers."""

    answers: int
    difficulty: float | None = None
    discrimination: float | None = None
    word: str = ""

    @property
    def enough(self) -> bool:
        """Whether there are figures at all."""
        return self.difficulty is not None


def item_figures(right: Sequence[bool], rest: Sequence[float]) -> ItemFigures:
    """Difficulty and discrimination of one question.

    Parameters
    ----------
    right : whether each answer was right.
    rest : for each answer, the share right of the other questions of that paper, 0 to 1.
    """
    if len(right) != len(rest):
        raise ValueError("as many scores as answers")
    if len(right) < ENOUGH:
        return ItemFigures(len(right))
    share = sum(right) / len(right)
    if len(set(right)) < 2 or len(set(rest)) < 2:
        return ItemFigures(len(right), share, None, ALL_ALIKE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", stats.NearConstantInputWarning)
        found = float(stats.pointbiserialr([float(each) for each in right], list(rest)).statistic)
    return ItemFigures(len(right), share, found, next((word for least, word in BANDS if found >= least), POOR))

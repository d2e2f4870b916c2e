"""The pictures of the training pages: one function per picture, values fixed, words by language.

    from training.drawings import draw, names
    draw("tail-trailing")            the SVG, in English
    draw("tail-trailing", "de")      the same with German words (training/content/de/drawings.toml)

A picture in a page is written `![what it shows](drawing:tail-trailing)`. Two of one picture on a page need two `key`s.
Plan views run upwards: the web travels up the sheet, the operator end is at the left, as on every drawing of a roller.
"""

from training.drawings import bands, causes, evidence, grades, running, spreading, work
from training.drawings.sheet import DRAWINGS, LETTER, WIDTH, NoDrawing, draw, words_of

__all__ = ["DRAWINGS", "LETTER", "WIDTH", "NoDrawing", "draw", "names", "words_of"]

SUBJECTS = (bands, causes, evidence, grades, running, spreading, work)


def names() -> tuple[str, ...]:
    """The names of all pictures."""
    return tuple(sorted(DRAWINGS))

"""One sheet for a picture: its size, its words in a language, and the list of all pictures."""

import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.marks import mark_at, verdict_mark

WIDTH = 720.0
LETTER = 18.0
CONTENT = Path(__file__).resolve().parent.parent / "content"

RIGHT, WRONG = "fits", "refused"


class NoDrawing(LookupError):
    """No picture has that name."""


@cache
def words_of(language: str) -> dict[str, str]:
    """English words to those of a language; empty for English and where no file is kept."""
    path = CONTENT / language / "drawings.toml"
    if not path.is_file():
        return {}
    return dict(tomllib.loads(path.read_text(encoding="utf-8"))["words"])


@dataclass
class Sheet:
    """Collects the parts of one picture. Everything that is read goes through `say`."""

    words: dict[str, str] = field(default_factory=dict)
    parts: list[SafeString] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def say(self, english: str) -> str:
        self.said.append(english)
        return self.words.get(english, english)

    def add(self, *parts: SafeString) -> None:
        self.parts.extend(parts)

    def label(
        self, x: float, y: float, english: str, css: str = "d-text", anchor: str = "middle", size: float = 0
    ) -> None:
        """Words at a place; `|` begins a new line."""
        step = (size or LETTER) * 1.22
        for number, words in enumerate(self.say(english).split("|")):
            self.add(canvas.text(x, y + number * step, words, css, size or LETTER, anchor=anchor))

    def plate(self, x: float, y: float, english: str, css: str = "d-text", size: float = 0) -> None:
        """Words on a plate that hides what lies below them, centred on (x, y)."""
        letter = size or LETTER
        lines = self.words.get(english, english).split("|")
        wide = max(len(words) for words in lines) * letter * 0.46 + 14
        tall = len(lines) * letter * 1.22 + 6
        self.add(canvas.rect(x - wide / 2, y - tall / 2, wide, tall, "d-plate"))
        self.label(x, y - tall / 2 + letter * 1.05 + 1, english, css, size=letter)

    def number(self, x: float, y: float, words: str, r: float = 14) -> None:
        """A number in a disc, for things that are counted or done in order."""
        self.add(canvas.circle(x, y, r, "d-plate"), canvas.circle(x, y, r, "d-outline"))
        self.add(canvas.text(x, y + 6.3, words, "d-firm", LETTER, anchor="middle"))

    def verdict(self, x: float, y: float, kind: str, english: str) -> None:
        """The mark for right or wrong with its words beside it, so that colour alone never says it."""
        self.add(mark_at(verdict_mark(kind), x + 12, y - 6, 24))
        self.label(x + 32, y, english, "d-firm", anchor="start")

    def travel(self, x: float, y1: float, y2: float, english: str = "travel") -> None:
        """The arrow of the web's travel, from y1 to y2, with its word beside it."""
        way = -1 if y2 < y1 else 1
        self.add(canvas.line(x, y1, x, y2 - way * 8, "d-turn"))
        self.add(canvas.arrow_head(x, y2, way * 1.5708, "d-turnhead", 16))
        self.label(x + 12, (y1 + y2) / 2 + 6, english, anchor="start")


Draughtsman = Callable[[Sheet], float]


@dataclass(frozen=True)
class Drawing:
    """A picture: its name, what it is, what it shows in words, and the function that draws it."""

    name: str
    title: str
    desc: str
    drawn_by: Draughtsman


DRAWINGS: dict[str, Drawing] = {}


def drawing(name: str, title: str, desc: str) -> Callable[[Draughtsman], Draughtsman]:
    """Register a picture. The function draws on a sheet and answers the height it needs."""

    def register(function: Draughtsman) -> Draughtsman:
        if name in DRAWINGS:
            raise ValueError(f"two drawings are called {name!r}")
        DRAWINGS[name] = Drawing(name, title, desc, function)
        return function

    return register


def draw(name: str, language: str = "en", key: str = "") -> SafeString:
    """The SVG of a picture with its words in a language (`en-gb` is `en`)."""
    if name not in DRAWINGS:
        raise NoDrawing(f"There is no drawing called {name!r}. Those there are: {', '.join(sorted(DRAWINGS))}.")
    wanted = DRAWINGS[name]
    sheet = Sheet(words_of(language.split("-")[0]))
    height = wanted.drawn_by(sheet)
    return canvas.svg(
        sheet.parts,
        width=WIDTH,
        height=height,
        title=sheet.say(wanted.title),
        desc=sheet.say(wanted.desc),
        css="drawing--lesson drawing--tablet",
        key=key or canvas.key_of("lesson", name),
    )


def english_words(name: str) -> tuple[str, ...]:
    """Every English text of a picture, its title and description included: what a language must translate."""
    sheet = Sheet()
    wanted = DRAWINGS[name]
    wanted.drawn_by(sheet)
    return tuple(dict.fromkeys([*sheet.said, wanted.title, wanted.desc]))


def polyline(points: Iterable[tuple[float, float]]) -> str:
    """Path data through points."""
    return "M" + "L".join(f"{canvas.px(x)} {canvas.px(y)}" for x, y in points)

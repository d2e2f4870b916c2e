"""Force-extension files as they are uploaded: every bad row named before anything is worked out. Pure."""

import math
from dataclasses import dataclass
from datetime import date
from typing import Any

from calcs.case import CaseError, Interval
from calcs.modulus import DIRECTIONS, Strip, WebModulus, read_strip, secant_modulus
from calcs.units import MPA, PCT, ZERO_CELSIUS
from plant.errors import Refused
from plant.floor.models import ProductVersion

MOST_SAID = 12
MOST_BYTES = 1_000_000
EXAMPLE = """# direction: MD
# temperature_c: 23
# date: 2026-03-10
# gauge_length_mm: 100
# width_mm: 15
# thickness_um: 20
extension_mm,force_n
0,0
0.1,0.60
0.2,1.20
0.3,1.79
0.4,2.36
"""


def text_of(content: bytes, name: str) -> str:
    """The file as text.

    Raises
    ------
    Refused
        Too large, or no text.
    """
    if len(content) > MOST_BYTES:
        raise Refused("too-big", f"{name} is larger than 1 MB; one curve is a few pages of text.", field="strips")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused("no-text", f"{name} is not text in UTF-8; save it as CSV.", field="strips") from None


def _number(text: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return math.nan


def bad_rows(text: str, name: str) -> list[str]:
    """A sentence for every row that cannot be read, with its line in the file."""
    said: list[str] = []
    head: list[str] | None = None
    mark, before = ",", -math.inf
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if head is None:
            mark = ";" if ";" in line else ","
            head = [cell.strip().lower() for cell in line.split(mark)]
            continue
        cells = line.split(mark)
        if len(cells) != len(head):
            count = "1 entry" if len(cells) == 1 else f"{len(cells)} entries"
            said.append(f"{name}, line {number}: {count} under {len(head)} columns.")
            continue
        wrong = [f"{head[at]} is '{cell.strip()}'" for at, cell in enumerate(cells) if not math.isfinite(_number(cell))]
        if wrong:
            said.append(f"{name}, line {number}: {', '.join(wrong)}, which is no number.")
            continue
        if "extension_mm" in head:
            here = _number(cells[head.index("extension_mm")])
            if here <= before:
                said.append(f"{name}, line {number}: extension_mm is {here:g}, not above the row before.")
            before = here
    if len(said) > MOST_SAID:
        said = [*said[:MOST_SAID], f"{name}: and {len(said) - MOST_SAID} more rows."]
    return said


def strips_of(files: list[tuple[str, bytes]]) -> list[Strip]:
    """All curves.

    Raises
    ------
    Refused
        With every bad row of every file.
    """
    texts = [(name, text_of(content, name)) for name, content in files]
    bad = [sentence for name, text in texts for sentence in bad_rows(text, name)]
    if bad:
        first = "Some rows cannot be read; nothing is taken from the files. Mend them and choose the files again."
        raise Refused("bad-rows", first, field="strips", details=bad)
    try:
        return [read_strip(text, name) for name, text in texts]
    except CaseError as trouble:
        raise Refused("bad-curve", trouble.sentence, field="strips") from None


@dataclass(frozen=True)
class Found:
    """The modulus of a product by its strips, and what a new version would say of it."""

    modulus: WebModulus
    strips: tuple[Strip, ...]

    @property
    def value_mpa(self) -> float:
        """To four digits: more are not known."""
        return float(f"{self.modulus.span.nominal / MPA:.4g}")

    @property
    def expanded_pct(self) -> float:
        """Expanded uncertainty (k = 2) in percent of the value."""
        measured = self.modulus.measured
        return 100 * measured.expanded / measured.value if measured else math.nan

    @property
    def parts(self) -> list[tuple[str, float]]:
        """Lines of the budget: name and standard uncertainty in percent of the value."""
        measured = self.modulus.measured
        return [(part.name, 100 * part.u / measured.value) for part in measured.parts] if measured else []

    @property
    def strain_pct(self) -> float:
        """Strain at which it holds."""
        return (self.modulus.strain or math.nan) / PCT

    @property
    def temperature_c(self) -> float:
        """Of the test."""
        return (self.modulus.temperature or math.nan) - ZERO_CELSIUS

    @property
    def method(self) -> str:
        """What stands beside the modulus in the product's data."""
        count = len(self.strips)
        return (
            f"secant at {self.strain_pct:.3g} % strain, {count} {'strip' if count == 1 else 'strips'}, "
            f"±{self.expanded_pct:.2g} % (k = 2), {self.temperature_c:.0f} °C"
        )

    def values(self, version: ProductVersion, fields: list[str]) -> dict[str, Any]:
        """The data of the next version: the present ones with the measured modulus."""
        kept = {name: getattr(version, name) for name in fields}
        if self.modulus.direction == "CD":
            return kept | {"modulus_cd_mpa": self.value_mpa}
        return kept | {
            "modulus_md_mpa": self.value_mpa,
            "modulus_direction": "MD",
            "modulus_method": self.method[:120],
            "modulus_on": self.modulus.day,
        }


def found_in(
    strips: list[Strip], version: ProductVersion, *, direction: str, web_temperature_c: float | None, at: date
) -> Found:
    """Secant modulus at the line strain of a product, over its window of tensions.

    Raises
    ------
    Refused
        Wrong direction, or a curve that does not reach the line tension.
    """
    if direction not in DIRECTIONS:
        raise Refused("direction", "Choose MD or CD: the way in which the strips were cut.", field="direction")
    tension = Interval(version.tension_min_n_per_m, version.tension_set_n_per_m, version.tension_max_n_per_m)
    kelvin = None if web_temperature_c is None else web_temperature_c + ZERO_CELSIUS
    try:
        modulus = secant_modulus(strips, tension, direction=direction, web_temperature=kelvin, at=at)
    except CaseError as trouble:
        raise Refused("bad-curve", trouble.sentence, field="strips") from None
    return Found(modulus, tuple(strips))

"""The columns of a kind of file, and how a row becomes values."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from plant.errors import Refused
from plant.web.quantities import Typed, conversion, stored, stored_unit, typed_of, unit_sign
from rollers.services.files import cells
from rollers.services.files.cells import BadCell


@dataclass(frozen=True)
class Column:
    """One column. With `field` it holds a figure whose unit stands in the next column (plain ratios have none)."""

    name: str
    about: str
    needed: bool = False
    read: Callable[[str, ZoneInfo], Any] = lambda text, zone: text
    field: str = ""
    ratio: str = ""
    example: str = ""
    example_unit: str = ""

    @property
    def unit_name(self) -> str:
        return f"{self.name}_unit"

    @property
    def unit_hint(self) -> str:
        """The unit a figure is stored in."""
        return unit_sign(stored_unit(self.field)[1]) if self.field else ""


def text(name: str, about: str, *, needed: bool = False) -> Column:
    return Column(name, about, needed)


def yes_no(name: str, about: str) -> Column:
    return Column(name, f"{about}: yes or no (empty: no)", read=lambda cell, zone: cells.yes_no(cell))


def whole(name: str, about: str, *, needed: bool = False) -> Column:
    return Column(name, about, needed, read=lambda cell, zone: cells.whole(cell))


def day(name: str, about: str, *, needed: bool = False) -> Column:
    return Column(name, f"{about}, as 2026-03-25", needed, read=lambda cell, zone: cells.day(cell))


def moment(name: str, about: str, *, needed: bool = False) -> Column:
    return Column(name, f"{about}: a day, a plant time, or a time with offset", needed, read=cells.moment)


def choice(name: str, about: str, words: tuple[str, ...], *, needed: bool = False) -> Column:
    return Column(
        name, f"{about}; one of {', '.join(words)}", needed, read=lambda cell, zone: cells.choice(cell, words)
    )


def several(name: str, about: str, *, needed: bool = False) -> Column:
    return Column(name, f"{about}, separated by |", needed, read=lambda cell, zone: cells.several(cell))


def quantity(stored_field: str, about: str, *, needed: bool = False, name: str = "") -> Column:
    """A figure with a unit column; the stored field's name gives the quantity."""
    ending = "_" + stored_field.rsplit("_", 1)[-1]
    for known in ("_n_per_m", "_m_per_min"):
        ending = known if stored_field.endswith(known) else ending
    return Column(name or stored_field.removesuffix(ending), about, needed, field=stored_field)


def ratio(name: str, about: str, *, needed: bool = False) -> Column:
    """A plain figure without a unit."""
    return Column(name, about, needed, ratio=name)


def headers(columns: tuple[Column, ...]) -> list[str]:
    """The header of a file: each figure is followed by its unit."""
    names: list[str] = []
    for column in columns:
        names += [column.name, column.unit_name] if column.field else [column.name]
    return names


@dataclass
class Row:
    """A row that could be read: its line, and a value for each column (None where the cell is empty)."""

    line: int
    values: dict[str, Any]
    conversions: list[str] = field(default_factory=list)

    def __getitem__(self, name: str) -> Any:
        return self.values.get(name)

    def text(self, name: str) -> str:
        return self.values.get(name) or ""

    def figures(self, *columns: Column) -> dict[str, Any]:
        """The figures of these columns by stored field."""
        return {
            column.field or column.ratio: self.values.get(column.name)
            for column in columns
            if (column.field or column.ratio) and self.values.get(column.name) is not None
        }

    def is_empty(self, *names: str) -> bool:
        return all(self.values.get(name) in (None, "", False) for name in names)


@dataclass(frozen=True)
class BadRow:
    """What is wrong in which line and column; line 0 means the file as a whole."""

    line: int
    column: str
    reason: str


def read_row(
    line: int, raw: dict[str, str], columns: tuple[Column, ...], *, semicolons: bool, zone: ZoneInfo
) -> tuple[Row, list[BadRow]]:
    """All cells of a row; every cell that cannot be read is named."""
    row, bad = Row(line, {}), []
    for column in columns:
        cell = raw.get(column.name, "")
        try:
            row.values[column.name] = _value(column, cell, raw, semicolons, zone)
            if column.field and row.values[column.name] is not None:
                shown = conversion(column.field, row.values[column.name])
                row.conversions += [f"{column.name.replace('_', ' ')} {shown}"] if shown else []
        except BadCell as trouble:
            bad.append(BadRow(line, column.name, str(trouble)))
        except Refused as refusal:
            bad.append(BadRow(line, column.name, refusal.sentence))
    return row, bad


def _value(column: Column, cell: str, raw: dict[str, str], semicolons: bool, zone: ZoneInfo) -> Any:
    unit = raw.get(column.unit_name, "") if column.field else ""
    if not cell:
        if column.needed:
            raise BadCell("The cell is empty; it is needed.")
        if unit:
            raise BadCell(f"The unit {unit!r} has no figure. Type the figure or empty both cells.")
        return None
    if column.field:
        if not unit:
            raise BadCell(
                f"The figure {cell} has no unit. Write it in {column.unit_name}, for example {column.unit_hint}."
            )
        figure = cells.typed(cell, unit, semicolons=semicolons)
        stored(column.field, figure)
        return figure
    if column.ratio:
        figure = Typed(cells.number(cell, semicolons=semicolons), "1")
        stored(column.ratio, figure)
        return figure
    return column.read(cell, zone)


def written(column: Column, row: Any) -> dict[str, str]:
    """The cells of a figure as they were typed."""
    if column.ratio:
        found = typed_of(row, column.ratio)
        return {column.name: found.value if found else ""}
    found = typed_of(row, column.field)
    return {column.name: found.value if found else "", column.unit_name: found.unit if found else ""}


def word(value: bool) -> str:
    return "yes" if value else "no"


def shown_day(value: Any) -> str:
    return value.isoformat() if value else ""


def shown_moment(value: Any, zone: ZoneInfo) -> str:
    return value.astimezone(zone).isoformat() if value else ""

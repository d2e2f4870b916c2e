"""From the bytes of a file to its rows. What cannot be a table is refused with a sentence."""

import csv
import io
from dataclasses import dataclass
from typing import Any

from plant.errors import Refused
from plant.floor.rules import SIDES
from plant.web.spreadsheet import restored
from rollers.services.files.columns import Column, headers

MOST_BYTES = 10 * 1024 * 1024
# SQLite lets one writer in at a time and the others wait 20 s; about 15 ms a row stays well below.
MOST_ROWS = 1000
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
SAVE_AS = "Save the sheet as CSV, UTF-8, with comma or semicolon, and send that file."


@dataclass(frozen=True)
class RawRow:
    """One row: the line it starts on, and its cells by column name."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Table:
    """The rows of a file; `semicolons` tells that a decimal comma may be meant."""

    rows: list[RawRow]
    semicolons: bool
    problems: list[tuple[int, str]]


def text_of(content: bytes) -> str:
    """The file as text.

    Raises
    ------
    Refused
        Too big, empty, binary, or not UTF-8.
    """
    if len(content) > MOST_BYTES:
        size = len(content) / 1024 / 1024
        sentence = f"The file has {size:.1f} MB; at most 10 MB are taken. Split it into several files."
        raise Refused("too-big", sentence, field="file")
    if not content.strip(b"\xef\xbb\xbf \t\r\n;,"):
        raise Refused("empty-file", "The file is empty. Download the blank file here and fill it in.", field="file")
    if content.startswith(_WORKBOOKS):
        raise Refused("binary", f"This is a workbook, not a CSV file. {SAVE_AS}", field="file")
    if b"\x00" in content or content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refused(
            "binary", f"This is no plain UTF-8 text (a picture, a program, or UTF-16). {SAVE_AS}", field="file"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = content.count(b"\n", 0, trouble.start) + 1
        sentence = f"Line {line} is not UTF-8 text; its letters would be garbled. {SAVE_AS}"
        raise Refused("encoding", sentence, field="file") from None


def table_of(content: bytes, columns: tuple[Column, ...]) -> Table:
    """The rows under the header. Lines before it that begin with # say where a file came from and are passed over.

    Raises
    ------
    Refused
        For a file that has no such header, or too many rows.
    """
    text = text_of(content)
    lines = text.splitlines(keepends=True)
    skipped = 0
    while skipped < len(lines) and (lines[skipped].lstrip('"').startswith("#") or not lines[skipped].strip(" ;,\r\n")):
        skipped += 1
    if skipped == len(lines):
        raise Refused("no-header", "The file has no header line. Download the blank file here.", field="file")
    semicolons = lines[skipped].count(";") > lines[skipped].count(",")
    reader = csv.reader(io.StringIO("".join(lines[skipped:])), delimiter=";" if semicolons else ",", strict=True)
    try:
        header = _checked_header(next(reader), columns)
        return _rows(reader, header, skipped, semicolons)
    except csv.Error as trouble:
        sentence = f"Line {skipped + reader.line_num} cannot be read as CSV ({trouble}). Look for a quote too many."
        raise Refused("not-csv", sentence, field="file") from None


def _rows(reader: Any, header: list[str], skipped: int, semicolons: bool) -> Table:
    rows: list[RawRow] = []
    problems: list[tuple[int, str]] = []
    start = skipped + reader.line_num + 1
    for cells in reader:
        line, start = start, skipped + reader.line_num + 1
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(header):
            problems.append(
                (line, f"The row has {len(cells)} cells, the header {len(header)}. Look for a shifted cell.")
            )
            continue
        if len(rows) + len(problems) >= MOST_ROWS:
            raise Refused(
                "too-many", f"The file has more than {MOST_ROWS} rows. Split it into several files.", field="file"
            )
        rows.append(RawRow(line, {name: restored(cell.strip()) for name, cell in zip(header, cells, strict=True)}))
    if not rows and not problems:
        raise Refused("no-rows", "The file has a header but no rows under it. Fill in at least one row.", field="file")
    return Table(rows, semicolons, problems)


def _checked_header(cells: list[str], columns: tuple[Column, ...]) -> list[str]:
    names = [cell.strip().lower().replace(" ", "_") for cell in cells]
    known = headers(columns)
    for name in names:
        if SIDES.search(name.replace("_", " ")):
            sentence = f"The column {name!r} says left or right, which depends on where one stands. Name the end."
            raise Refused("left-right", f"{sentence} Known columns: {', '.join(known)}.", field="file")
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise Refused(
            "column-twice", f"The column {', '.join(twice) or '(empty)'} comes twice. Keep one.", field="file"
        )
    unknown = [name for name in names if name not in known]
    missing = [column.name for column in columns if column.needed and column.name not in names]
    missing += [
        column.unit_name
        for column in columns
        if column.field and column.name in names and column.unit_name not in names
    ]
    if missing or unknown:
        said = [f"These columns are missing: {', '.join(missing)}."] if missing else []
        said += [f"These are not known here: {', '.join(map(repr, unknown))}."] if unknown else []
        sentence = " ".join(said) + f" Known columns: {', '.join(known)}. The blank file has them all."
        raise Refused("columns", sentence, field="file")
    return names

"""CSV for spreadsheets: what was asked for on top, and no cell that a spreadsheet would take for a formula."""

import csv
import io
import re
from collections.abc import Iterable, Sequence

STARTERS = ("=", "+", "-", "−", "@", "'", "\t", "\r")
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def neutralised(text: str) -> str:
    """The text with a mark in front where a spreadsheet would compute it. Numbers stay numbers."""
    return "'" + text if text.startswith(STARTERS) and not NUMBER.fullmatch(text) else text


def csv_text(about: Iterable[str], heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A block of # lines that says what, when, by whom and how many; then the header and the rows."""
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\r\n")
    writer.writerows([f"# {line}"] for line in about)
    writer.writerow(heads)
    writer.writerows([neutralised("" if cell is None else str(cell)) for cell in row] for row in rows)
    return page.getvalue()

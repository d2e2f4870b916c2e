"""Tables as CSV that a spreadsheet opens and takes for nothing but text and numbers."""

import csv
import io
import re
from collections.abc import Iterable, Sequence

STARTERS = ("=", "+", "-", "@", "'", "\t", "\r")
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def neutralised(text: str) -> str:
    """The text as it is written into a file: a spreadsheet must not take it for a formula. Numbers stay."""
    if text.startswith(STARTERS) and not NUMBER.fullmatch(text):
        return "'" + text
    return text


def restored(text: str) -> str:
    """The text before `neutralised`; other texts as they are."""
    return text[1:] if len(text) > 1 and text[0] == "'" and text[1] in STARTERS else text


def written(lines: Iterable[Sequence[str]]) -> str:
    """Lines of cells as CSV (RFC 4180)."""
    page = io.StringIO()
    csv.writer(page, lineterminator="\r\n").writerows(lines)
    return page.getvalue()


def headed(title: str, facts: Sequence[tuple[str, str]]) -> str:
    """The block of # lines above a table: what it is, and the facts about it, each on a line of its own."""
    lines = [f"# Bandkeeper: {title}", *(f"# {name}: {' '.join(value.split())}" for name, value in facts)]
    return written([[line] for line in lines])

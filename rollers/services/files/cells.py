"""Single cells: what a text in a file means. Nothing is guessed; what is unclear is asked back."""

import re
from datetime import date, datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

from plant.floor import rules as floor_rules
from plant.web.forms import EARLIEST, LATEST
from plant.web.quantities import Typed

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
YES = {"yes", "y", "true", "1", "x"}
NO = {"no", "n", "false", "0", ""}


class BadCell(Exception):
    """A cell that cannot be read; the sentence says what to write instead."""


def number(text: str, *, semicolons: bool) -> str:
    """The digits of a figure with a point.

    Raises
    ------
    BadCell
        For a comma that can mean two things.
    """
    if "," not in text:
        return text
    if semicolons and _DECIMAL_COMMA.fullmatch(text) and not _EITHER.fullmatch(text):
        return text.replace(",", ".")
    plain = text.replace(",", "")
    raise BadCell(
        f"{text!r} has a comma, which can mean two things. Write a decimal point, for example {plain} or 1.5."
    )


def yes_no(text: str) -> bool:
    """Yes or no.

    Raises
    ------
    BadCell
        For anything else.
    """
    word = text.lower()
    if word in YES:
        return True
    if word in NO:
        return False
    raise BadCell(f"{text!r}: write yes or no.")


def whole(text: str) -> int:
    """A whole number.

    Raises
    ------
    BadCell
        For anything else.
    """
    if not re.fullmatch(r"[0-9]{1,6}", text):
        raise BadCell(f"{text!r} is no whole number; write digits only, for example 3.")
    return int(text)


Day = TypeVar("Day", bound=date)


def _reached(found: Day, text: str) -> Day:
    if not EARLIEST <= found.year <= LATEST:
        raise BadCell(f"{text!r}: write a year from {EARLIEST} to {LATEST}.")
    return found


def day(text: str) -> date:
    """A calendar day.

    Raises
    ------
    BadCell
        For anything but year-month-day.
    """
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        try:
            found = date.fromisoformat(text)
        except ValueError:
            raise BadCell(f"There is no day {text}. Check month and day.") from None
        return _reached(found, text)
    raise BadCell(f"{text!r}: write a date as year-month-day, for example 2026-03-25.")


def moment(text: str, zone: ZoneInfo) -> datetime:
    """A moment: a date (midnight in plant time), a plant time, or a time with its offset from UTC.

    Raises
    ------
    BadCell
        For an hour that the clock change skips or repeats, and for what is no time.
    """
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return floor_rules.day_start(day(text), zone)
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise BadCell(f"{text!r}: write 2026-03-25, 2026-03-25 06:00 or 2026-03-25T06:00:00+01:00.") from None
    _reached(found, text)
    if found.tzinfo is not None:
        return found
    early, late = found.replace(tzinfo=zone), found.replace(tzinfo=zone, fold=1)
    if early.utcoffset() != late.utcoffset():
        raise BadCell(f"{text}: the clock changes in this hour. Add the offset from UTC, for example +01:00.")
    return early


def choice(text: str, words: tuple[str, ...]) -> str:
    """One of some words, whatever the case of the letters.

    Raises
    ------
    BadCell
        Naming the words.
    """
    for word in words:
        if text.lower() == word.lower():
            return word
    refuse_left_right(text)
    raise BadCell(f"{text!r} is not known here; write one of: {', '.join(words)}.")


def several(text: str) -> list[str]:
    """Words separated by upright bars."""
    return [part.strip() for part in text.split("|") if part.strip()]


def typed(text: str, unit: str, *, semicolons: bool) -> Typed:
    """A figure with its unit, both as written."""
    return Typed(number(text, semicolons=semicolons), unit)


def refuse_left_right(text: str) -> None:
    """Ends are named operator end and drive end.

    Raises
    ------
    BadCell
        When the text is left or right.
    """
    if text.strip().lower() in ("left", "right", "l", "r", "links", "rechts"):
        raise BadCell(f"{text!r} depends on where one stands. Write operator end or drive end.")

"""Passwords that are long and yet easy to guess.

NIST SP 800-63B asks for a blocklist of context words (the service, the user's own name), of repetitive and of
sequential characters. What is left after taking these away must still be worth guessing; how much is our own default.
"""

import re

from django.core.exceptions import ValidationError

from plant.people.models import Person

EASY_WORDS = ("bandkeeper", "password", "passwort", "kennwort", "welcome", "letmein", "secret", "admin", "roller")
ROWS = ("abcdefghijklmnopqrstuvwxyz", "01234567890", "qwertyuiop", "qwertzuiop", "asdfghjkl", "yxcvbnm", "zxcvbnm")
LEFT_AT_LEAST = 8
DIFFERENT_AT_LEAST = 5


def _runs(text: str) -> list[str]:
    """Stretches of four and more neighbours of the alphabet, the digits or the keyboard, either way."""
    rows, found, start = [*ROWS, *(row[::-1] for row in ROWS)], [], 0
    while start < len(text):
        end = start + 4
        while end <= len(text) and any(text[start:end] in row for row in rows):
            end += 1
        if end > start + 4:
            found.append(text[start : end - 1])
            start = end - 1
        else:
            start += 1
    return found


def worth_guessing(password: str, known: list[str]) -> str:
    """What is left of a password without known words, runs and repetitions."""
    left = password.casefold()
    for word in sorted({word.casefold() for word in known if len(word) >= 3} | set(EASY_WORDS), key=len, reverse=True):
        left = left.replace(word, "")
    for run in _runs(left):
        left = left.replace(run, "", 1)
    left = re.sub(r"(.)\1{2,}", r"\1", left)
    repeated = re.fullmatch(r"(.+?)\1+", left)
    return repeated.group(1) if repeated else left


class HardToGuess:
    """A validator of Django's kind."""

    def validate(self, password: str, user: Person | None = None) -> None:
        """Refuse what falls apart into known words, runs and repetitions."""
        known = [*re.split(r"\W+", user.name), user.name, user.staff_no, user.email.split("@")[0]] if user else []
        left = worth_guessing(password, known)
        if len(left) < LEFT_AT_LEAST or len(set(left)) < DIFFERENT_AT_LEAST:
            raise ValidationError(
                "This password is easy to guess: a name, a known word, a row of keys or a repetition. "
                "Take a few words that have nothing to do with one another.",
                code="easy",
            )

    def get_help_text(self) -> str:
        """What the form may say beforehand."""
        return "Take a few words that have nothing to do with one another."

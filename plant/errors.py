"""The one way to say no."""


class Refused(Exception):
    """An act that the rules do not allow.

    `code` is stable and machine-readable; `sentence` tells the person what is wrong, what to do next and who
    can help. `field` names the input where one input is the cause; `details` carries further lines (each row of
    an import, each check of a verdict).
    """

    def __init__(self, code: str, sentence: str, *, field: str = "", details: list[str] | None = None):
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.field = field
        self.details = details or []


class NotFound(Refused):
    """There is no such thing, or this person may not see it: the answer is the same."""

    def __init__(self, what: str, name: str, help_with: str = "Check the code, or ask the shift supervisor."):
        super().__init__("not-found", f"There is no {what} {name!r} here. {help_with}")


class Forbidden(Refused):
    """The person's roles do not allow the act. The sentence names the roles that do."""


class Conflict(Refused):
    """Somebody else changed the thing since it was looked at."""


class TooFast(Refused):
    """Asked too often from one place; later it is answered."""

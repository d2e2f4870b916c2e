"""What is verified, by name. Each application adds its own promises in its `verifying.py`."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Misfit:
    """Something that is not as it was written: where, and in a sentence what."""

    where: str
    sentence: str
    stream: str = ""
    seq: int = 0

    def __str__(self) -> str:
        return f"{self.where}: {self.sentence}"


@dataclass(frozen=True)
class Note:
    """Something that is as it should be and must be said: content that a signed order removed."""

    sentence: str


Check = Callable[[], Iterable[Misfit | Note]]
VERIFIERS: dict[str, Check] = {}


def verifier(name: str) -> Callable[[Check], Check]:
    """Register a check that runs with every full verification."""

    def register(check: Check) -> Check:
        if name in VERIFIERS:
            raise ValueError(f"two checks are called {name}")
        VERIFIERS[name] = check
        return check

    return register

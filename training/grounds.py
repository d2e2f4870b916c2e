"""What a certificate or a finished refresher stands on, by key."""

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Grounds:
    """Keys of the rows that prove it: classes attended, tests passed, supervised jobs, the practical.

    Words for people stand in `evidence`; these keys let the record of training be put together again.
    """

    attendances: tuple[int, ...] = ()
    attempts: tuple[int, ...] = ()
    practices: tuple[int, ...] = ()
    assessments: tuple[int, ...] = ()
    markings: tuple[int, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Only what there is."""
        return {name: list(keys) for name, keys in asdict(self).items() if keys}

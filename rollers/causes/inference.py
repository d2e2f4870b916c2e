"""Which roller starts it: what the looks of a walk say, in path order."""

from dataclasses import dataclass
from itertools import pairwise

MISSED, FALSE_ALARM = 0.10, 0.05
"""How often a look misses what is there, and sees what is not (our defaults, no source)."""


@dataclass(frozen=True)
class Said:
    """The roller named and how sure; None where clean everywhere is likelier."""

    first: str | None
    sureness: float
    posterior: dict[str, float]
    contradictions: tuple[str, ...]
    look_again: tuple[str, ...]


def infer(codes: list[str], seen: list[str]) -> Said:
    """Every hypothesis weighed: it starts at this roller and shows from here on, or nowhere."""
    shows = [word != "clean" for word in seen]
    weights = []
    for start in range(len(codes) + 1):
        weight = 1.0
        for place, shown in enumerate(shows):
            there = place >= start
            weight *= (1 - MISSED if shown else MISSED) if there else (FALSE_ALARM if shown else 1 - FALSE_ALARM)
        weights.append(weight)
    total = sum(weights)
    shares = [weight / total for weight in weights]
    best = max(range(len(shares)), key=lambda number: shares[number])
    first = codes[best] if best < len(codes) else None
    said, again = [], []
    for (before, was), (here, now) in pairwise(zip(codes, seen, strict=True)):
        if was != "clean" and now == "clean":
            said.append(f"Clean at {here} after {was} at {before}: walk these two again.")
            again += [before, here]
    return Said(
        first,
        shares[best],
        dict(zip([*codes, ""], shares, strict=True)),
        tuple(said),
        tuple(dict.fromkeys(again)),
    )

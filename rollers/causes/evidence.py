"""From rows of running to the counts of a study, and to whether it pays. Pure but for the rows given."""

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Any, Protocol

from calcs.benefit import Saved, amount_saved, events_avoided
from calcs.evidence import BETTER, NOT_ENOUGH, WORSE, Minimum, Window
from calcs.evidence import study as evidence_of

SAME = 0.05  # tension and speed within so much of the usual (default of the trade form, no source)
MINIMA = {"wrinkles": Minimum(20_000, 3), "breaks": Minimum(100, 3)}
UNITS = {"wrinkles": "m", "breaks": "h"}
PER = {"wrinkles": 10_000, "breaks": 100}


class Ran(Protocol):
    """A stretch of running, as recorded."""

    roll: str
    length_m: float
    running_h: float
    wrinkles: int | None
    breaks: int | None
    waste_kg: float | None
    made_kg: float | None
    tension_n_per_m: float | None
    speed_m_per_min: float | None


@dataclass(frozen=True)
class Counted:
    """The rows of one window that count, and those that do not, each with why."""

    rows: tuple[Any, ...]
    left_out: tuple[tuple[str, str], ...]


def usual(rows: Iterable[Ran], field: str) -> float | None:
    """The middle of what was run."""
    values = [value for row in rows if (value := getattr(row, field)) is not None]
    return median(values) if values else None


def counted(rows: list[Any], measure: str, tension: float | None, speed: float | None) -> Counted:
    """Leave out what was not counted, and what ran otherwise than usual."""
    kept, out = [], []
    for row in rows:
        why = _why_not(row, measure, tension, speed)
        if why:
            out.append((row.roll, why))
        else:
            kept.append(row)
    return Counted(tuple(kept), tuple(out))


def _why_not(row: Any, measure: str, tension: float | None, speed: float | None) -> str:
    if measure == "waste":
        if row.waste_kg is None or not row.made_kg:
            return "waste was not weighed"
    elif getattr(row, measure) is None:
        return f"{measure} were not counted"
    elif not (row.length_m if measure == "wrinkles" else row.running_h):
        return "nothing ran"
    for value, middle, word in (
        (row.tension_n_per_m, tension, "tension"),
        (row.speed_m_per_min, speed, "speed"),
    ):
        if value is not None and middle and abs(value - middle) > SAME * middle + 1e-9:
            return f"{word} {value:g} is more than 5 % off the usual {middle:g}"
    return ""


def window_of(rows: tuple[Any, ...], measure: str) -> Window | None:
    """Counts and exposure of a window with its rolls; None where nothing counts."""
    pairs = tuple((getattr(row, measure), row.length_m if measure == "wrinkles" else row.running_h) for row in rows)
    if not pairs:
        return None
    return Window(sum(count for count, _ in pairs), sum(size for _, size in pairs), pairs)


def answer_for(measure: str, before: Counted, after: Counted) -> dict[str, Any]:
    """The verdict with everything it rests on, as it is stored."""
    parts: dict[str, Any] = {
        "measure": measure,
        "left_out": {"before": list(before.left_out), "after": list(after.left_out)},
        "rows": {"before": [_plain(row) for row in before.rows], "after": [_plain(row) for row in after.rows]},
    }
    if measure == "waste":
        return parts | _waste(before.rows, after.rows)
    first, second = window_of(before.rows, measure), window_of(after.rows, measure)
    if first is None or second is None:
        return parts | {"verdict": NOT_ENOUGH, "sentences": ["One of the windows holds no row that counts."]}
    found = evidence_of(first, second, MINIMA[measure], UNITS[measure])
    return parts | {
        "verdict": found.verdict,
        "ratio": _finite(found.ratio),
        "low": _finite(found.low),
        "high": _finite(found.high),
        "p_value": found.exact.p_value,
        "exact": [_finite(found.exact.low), _finite(found.exact.high)],
        "dispersion": found.dispersion.index if found.dispersion else None,
        "widened": found.widened,
        "minimum_met": found.minimum_met,
        "needed": {"each": found.needed.each, "after": found.needed.after} if found.needed else None,
        "before": {"events": first.events, "exposure": first.exposure, "rate": first.rate * PER[measure]},
        "after": {"events": second.events, "exposure": second.exposure, "rate": second.rate * PER[measure]},
        "per": PER[measure],
        "unit": UNITS[measure],
        "saved": _saved(events_avoided(first, second)),
        "sentences": list(found.sentences),
    }


def _waste(before: tuple[Any, ...], after: tuple[Any, ...]) -> dict[str, Any]:
    if len(before) < 2 or len(after) < 2:
        return {"verdict": NOT_ENOUGH, "sentences": ["Two weighed rolls in each window are the least for waste."]}
    first, second = (tuple((row.waste_kg, row.made_kg) for row in rows) for rows in (before, after))
    saved = amount_saved(first, second)
    verdict = BETTER if saved.low > 0 else WORSE if saved.high < 0 else NOT_ENOUGH
    sides = {
        name: {
            "events": sum(waste for waste, _ in rows),
            "exposure": sum(made for _, made in rows),
            "rate": 100 * sum(waste for waste, _ in rows) / sum(made for _, made in rows),
        }
        for name, rows in (("before", first), ("after", second))
    }
    made = sides["after"]["exposure"]
    sentence = (
        f"Waste {sides['before']['rate']:.2f} % before, {sides['after']['rate']:.2f} % after; spared "
        f"{saved.amount:.0f} kg of {made:.0f} kg made (95 % interval {saved.low:.0f} to {saved.high:.0f} kg). "
        f"Verdict: {verdict}."
    )
    return {"verdict": verdict, "per": 100, "unit": "kg", "saved": _saved(saved), "sentences": [sentence], **sides}


def _saved(found: Saved) -> dict[str, float]:
    return {"amount": found.amount, "low": found.low, "high": found.high}


def _finite(value: float | None) -> float | None:
    return None if value is None or value in (float("inf"), float("-inf")) else value


def _plain(row: Any) -> dict[str, Any]:
    return {
        "roll": row.roll,
        "starts": row.starts_at.isoformat(),
        "length_m": row.length_m,
        "running_h": row.running_h,
        "wrinkles": row.wrinkles,
        "breaks": row.breaks,
        "waste_kg": row.waste_kg,
        "made_kg": row.made_kg,
    }

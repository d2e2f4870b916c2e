"""How many wraps to start with: the closed form, rounded, then checked like any recipe.

How bad the wrinkle is is not an input: the line strain decides what a web can take.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from calcs import VERSION, profile, strain
from calcs.case import Case, CaseError
from calcs.limits import DEFAULT, Limits
from calcs.readings import CAUTION, FITS, REFUSED, Judgement, judge, worst_word


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one number of wraps would do to one product; ``because`` names the worst check."""

    verdict: str
    because: str
    edge_ratio: float
    centre_loss: float
    hold_used: float


@dataclass(frozen=True, slots=True)
class Row:
    """Outcome of one number of wraps over all products."""

    wraps: int
    verdict: str
    products: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Suggested wraps (0: bare), the formula value of every product (None: not touched), and why."""

    wraps: int
    bare: bool
    formula: tuple[float | None, ...]
    why: str
    outcomes: tuple[Row, ...]
    version: str
    limits_version: str

    @property
    def verdict(self) -> str:
        """Overall word of the suggested number of wraps."""
        return self.outcomes[self.wraps].verdict

    def as_dict(self) -> dict[str, Any]:
        """Plain form; a hold that nothing can give is null."""
        return {
            "suggested_wraps": self.wraps,
            "bare": self.bare,
            "verdict": self.verdict,
            "formula_wraps": list(self.formula),
            "why": self.why,
            "outcomes": [
                {
                    "wraps": row.wraps,
                    "verdict": row.verdict,
                    "products": [
                        {
                            "verdict": product.verdict,
                            "because": product.because,
                            "edge_ratio": product.edge_ratio,
                            "centre_loss": product.centre_loss,
                            "hold_used": product.hold_used if math.isfinite(product.hold_used) else None,
                        }
                        for product in row.products
                    ],
                }
                for row in self.outcomes
            ],
            "version": self.version,
            "limits_version": self.limits_version,
        }


def with_wraps(case: Case, wraps: int) -> Case:
    """The same case with the same number of wraps on every band."""
    return replace(case, bands=tuple(replace(band, wraps=wraps) for band in case.bands))


def covered_share(case: Case) -> float:
    """Share of the nominal web width over the bands' places, whatever they carry."""
    edge = case.web.width.nominal / 2
    cells = profile.signed_cells(with_wraps(case, 1).bands)
    return sum(max(0.0, min(cell.high, edge) - max(cell.low, -edge)) for cell in cells) / (2 * edge)


def formula_wraps(case: Case, limits: Limits = DEFAULT) -> float | None:
    """Wraps by the closed form at nominal values, not rounded.

    Returns
    -------
    float or None
        n = (target - 1) eps_T R / ((1 - f) t), with the target edge ratio from the limits; None without a
        tape, or when the bands lie under none or all of the web.
    """
    share = covered_share(case)
    target = limits["edge_ratio"].target
    if case.tape is None or target is None or not 0 < share < 1 - 1e-9:
        return None
    mean = strain.tension_strain(case.state.tension.nominal, case.web.modulus_md.nominal, case.web.thickness.nominal)
    radius = case.roller.diameter.nominal / 2
    return float(strain.wraps_for_ratio(target, mean, radius, share, case.tape.thickness.nominal))


def rounded_wraps(formula: float, limits: Limits = DEFAULT) -> int:
    """Whole wraps: bare (0) below the bare limit, then the nearest number, at least 1, at most the limit."""
    if formula < limits.refuse("bare_below"):
        return 0
    return min(max(1, math.floor(formula + 0.5)), most_wraps(limits))


def most_wraps(limits: Limits) -> int:
    """Largest number of wraps that is ever considered."""
    return int(limits.refuse("wraps"))


def start_wraps(judged: Judgement, formula: Sequence[float | None]) -> list[int | None]:
    """Suggested wraps of many cases, each by itself: rounded, then lowered until nothing refuses.

    Parameters
    ----------
    judged
        The cases as they stand; what they already answer is not computed again.
    formula
        :func:`formula_wraps` of each case.
    """
    found = [None if value is None else rounded_wraps(value, judged.limits) for value in formula]
    for number, case in enumerate(judged.cases):
        if found[number] and _wrong_place(judged, number) and len({band.wraps for band in case.bands}) == 1:
            found[number] = 0
    todo = [number for number, wraps in enumerate(found) if wraps]
    while todo:
        before = list(found)
        for number, wraps in zip(todo, _lowered(todo, judged, found), strict=True):
            found[number] = wraps
        todo = [number for number in todo if found[number] and found[number] != before[number]]
    return found


def _lowered(numbers: Sequence[int], judged: Judgement, wraps: Sequence[int | None]) -> list[int]:
    """The wraps to try next: the same when not refused, none when the place of the tape is refused, else one less."""
    trials = {number: with_wraps(judged.cases[number], wraps[number] or 0) for number in numbers}
    unknown = [number for number in numbers if trials[number] != judged.cases[number]]
    fresh = judge([trials[number] for number in unknown], judged.limits) if unknown else judged
    places = {number: place for place, number in enumerate(unknown)}
    found = []
    for number in numbers:
        source, place = (fresh, places[number]) if number in places else (judged, number)
        now = wraps[number] or 0
        if source.overall[place] != REFUSED:
            found.append(now)
        elif _wrong_place(source, place):
            found.append(0)
        else:
            found.append(now - 1)
    return found


_WHATEVER_THE_WRAPS = ("web_on_face", "kind", "band_on_face", "rides_step", "overhang", "wrap_angle", "temperature")
"""Checks that refuse a taped roller for any number of wraps."""


def _wrong_place(judged: Judgement, number: int) -> bool:
    return any(judged.placed[number][name].word == REFUSED for name in _WHATEVER_THE_WRAPS)


def _body(case: Case) -> tuple[object, ...]:
    """What products of one roller share; friction and wrap may differ with the web and its path."""
    roller, tape = case.roller, case.tape
    return roller.diameter, roller.face, roller.roughness, tape and (tape.thickness, tape.roughness)


def _same_roller(cases: Sequence[Case]) -> None:
    first = cases[0]
    places = [(band.end, band.inner, band.outer) for band in first.bands]
    if first.tape is None:
        raise CaseError("tape", "tape is missing; sizing needs to know which tape is meant.")
    if not places:
        raise CaseError("bands", "bands is empty; sizing needs to know where the tape would lie (wraps may be 0).")
    for number, case in enumerate(cases):
        if _body(case) != _body(first):
            raise CaseError(
                "roller",
                f"Product {number + 1} names another roller or tape; size products of one roller together.",
            )
        if [(band.end, band.inner, band.outer) for band in case.bands] != places:
            raise CaseError("bands", f"Product {number + 1} places its bands elsewhere; size one band place at a time.")


def _outcomes(cases: Sequence[Case], limits: Limits) -> tuple[Row, ...]:
    counts = range(most_wraps(limits) + 1)
    trials = [with_wraps(case, wraps) for wraps in counts for case in cases]
    judged = judge(trials, limits)
    field = judged.field
    outcomes = []
    for number, word in enumerate(judged.overall):
        worst = [reading.limit.title for reading in judged.readings(number) if reading.word == word]
        outcomes.append(
            Outcome(
                word,
                "" if word == FITS else worst[0],
                float(field.ratio[number, 0, 0]),
                float(field.loss[number, 0, 0]),
                float(field.hold[number, 0, 0]),
            )
        )
    per_count = [tuple(outcomes[wraps * len(cases) : (wraps + 1) * len(cases)]) for wraps in counts]
    return tuple(
        Row(wraps, worst_word(outcome.verdict for outcome in row), row)
        for wraps, row in zip(counts, per_count, strict=True)
    )


def suggest(cases: Case | Sequence[Case], limits: Limits = DEFAULT) -> Suggestion:
    """Suggest a number of wraps for one roller, over one or several products.

    Parameters
    ----------
    cases
        One case, or one per product; the same roller, tape and band places. The wraps of the bands do not
        matter.
    limits
        The plant's limits.

    Returns
    -------
    Suggestion
        The whole number nearest to what the products ask for by the closed form, lowered until no product
        refuses it; bare when the formula asks for less than half a wrap. A start value: the trial on the
        line decides.

    Raises
    ------
    CaseError
        No tape, no band places, or products of different rollers.
    """
    group = [cases] if isinstance(cases, Case) else list(cases)
    if not group:
        raise CaseError("case", "There is no product to size for; give at least one case.")
    _same_roller(group)
    formula = tuple(formula_wraps(case, limits) for case in group)
    outcomes = _outcomes(group, limits)
    asked = [value for value in formula if value is not None]
    start = _common(asked, limits)
    wraps = start
    while wraps and outcomes[wraps].verdict == REFUSED:
        wraps -= 1
    why = _why(asked, start, wraps, outcomes)
    return Suggestion(wraps, wraps == 0, formula, why, outcomes, VERSION, limits.version)


def _common(asked: Sequence[float], limits: Limits) -> int:
    """Whole number with the smallest sum of distances to the formula values; the smaller one on a tie."""
    if not asked:
        return 0
    if len(asked) == 1:
        return rounded_wraps(asked[0], limits)
    most = most_wraps(limits)
    capped = [min(value, float(most)) for value in asked]
    return min(range(most + 1), key=lambda wraps: (round(sum(abs(wraps - value) for value in capped), 9), wraps))


def _why(asked: Sequence[float], start: int, wraps: int, outcomes: Sequence[Row]) -> str:
    if not asked:
        return "Bare: at the nominal width the bands lie under none or all of the web, so wraps change nothing."
    values = " and ".join(f"{value:.2f}" for value in asked)
    if start == 0:
        return f"Bare: the formula asks for {values} wraps, nearer to none than to one."
    if wraps == start:
        tail = (
            f" At {wraps} the outcome is caution: read why before you take it."
            if outcomes[wraps].verdict == CAUTION
            else ""
        )
        return f"{wraps}: the formula asks for {values} wraps.{tail}"
    because = next(product.because for product in outcomes[start].products if product.verdict == REFUSED)
    got = "bare" if wraps == 0 else str(wraps)
    reason = f"the formula asks for {values} wraps, but {start} is refused ({because.lower()})"
    return f"{got[0].upper()}{got[1:]}: {reason}."

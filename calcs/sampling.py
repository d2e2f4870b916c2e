"""Single sampling by attributes: how many to look at, how many faults are too many, when to look closer or less.

Tables of MIL-STD-105E (1989, public domain), which ISO 2859-1 shares for normal and tightened single plans. Its master
tables have one diagonal structure: the cell depends on the rank of the code letter plus the rank of the AQL. An arrow
sends to another code letter **with that letter's sample size**; a public transcription that keeps the old sample size
is wrong. Where an arrow leaves the table the other way is taken (letter A at AQL 10, where copies of the table differ;
letter R at AQL 0.010 and 0.015).

Cells for AQL 0.65 to 10 of the normal and the tightened table and code letters up to 3,200 units were compared with
public copies of the standard; the reduced table, larger lots and smaller AQLs are from memory, not checked. ISO
2859-1:1999 has other rejection numbers in its reduced table. Limit numbers for reduced inspection (Table VIII) are not
here: the switching score of ISO 2859-1 takes their place (from memory, not checked).

Not for what must not happen: removal of tape that is due, pieces counted and critical findings are never sampled.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from scipy.stats import binom, hypergeom, poisson

from calcs.case import CaseError

NORMAL, TIGHTENED, REDUCED = "normal", "tightened", "reduced"
LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
AQLS = (0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
"""Acceptance quality levels, per cent nonconforming."""
LETTERS = "ABCDEFGHJKLMNPQRS"
ACCEPTED, REJECTED = "accepted", "rejected"
ACCEPTED_BACK = "accepted, back to normal inspection"

_LOTS = (
    (8, "AAAAAAB"),
    (15, "AAAAABC"),
    (25, "AABBBCD"),
    (50, "ABBCCDE"),
    (90, "BBCCCEF"),
    (150, "BBCDDFG"),
    (280, "BCDEEGH"),
    (500, "BCDEFHJ"),
    (1_200, "CCEFGJK"),
    (3_200, "CDEGHKL"),
    (10_000, "CDFGJLM"),
    (35_000, "CDFHKMN"),
    (150_000, "DEGJLNP"),
    (500_000, "DEGJMPQ"),
    (None, "DEHKNQR"),
)
_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000, 3150)
_REDUCED_SIZES = (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800)
_DOWN, _UP = "down", "up"
_Cell = tuple[int, int] | str
_NORMAL = (1, 2, 3, 5, 7, 10, 14, 21)
_TIGHTENED = (1, 2, 3, 5, 8, 12, 18)
_REDUCED = ((0, 2), (1, 3), (1, 4), (2, 5), (3, 6), (5, 8), (7, 10), (10, 13))
SCORE_FOR_REDUCED = 30
REJECTED_FOR_TIGHTENED, OF_LOTS = 2, 5
ACCEPTED_FOR_NORMAL = 5
REJECTED_TO_STOP = 5


@dataclass(frozen=True, slots=True)
class SamplingPlan:
    """What to look at and what to allow.

    ``first_letter`` is that of lot and level, ``letter`` that after arrows. ``whole_lot``: the sample is as large as
    the lot, so all of it is looked at. Between ``accept`` and ``reject`` (reduced inspection only) a lot is accepted
    and the next is inspected normally.
    """

    lot_size: int
    level: str
    severity: str
    aql: float
    first_letter: str
    letter: str
    sample: int
    accept: int
    reject: int
    whole_lot: bool

    def decide(self, found: int, critical: int = 0) -> str:
        """Word for a sample with this many nonconforming units; a critical one rejects whatever the number.

        Raises
        ------
        CaseError
            More found than were looked at, or a negative number.
        """
        if not 0 <= critical <= found <= self.sample:
            raise CaseError("found", f"found is {found}, critical {critical} of {self.sample} looked at; count again.")
        if critical or found >= self.reject:
            return REJECTED
        return ACCEPTED if found <= self.accept else ACCEPTED_BACK


@dataclass(frozen=True, slots=True)
class Switching:
    """Where a series of lots stands: severity, and what counts towards changing it.

    ``recent`` holds acceptance of the last lots on normal inspection (at most 5), ``in_row`` lots accepted in a row on
    tightened, ``score`` the switching score on normal, ``rejected`` all lots rejected on tightened since it began.
    """

    severity: str = NORMAL
    recent: tuple[bool, ...] = ()
    in_row: int = 0
    score: int = 0
    rejected: int = 0
    stopped: bool = False


def code_letter(lot_size: int, level: str = "II") -> str:
    """Sample size code letter (Table I).

    Raises
    ------
    CaseError
        A lot of fewer than two units, or an unknown level.
    """
    if lot_size < 2:
        raise CaseError("lot_size", f"lot_size is {lot_size}; a lot of fewer than 2 is looked at whole, not sampled.")
    if level not in LEVELS:
        raise CaseError("level", f"level is '{level}'; give one of {', '.join(LEVELS)}.")
    return next(letters for most, letters in _LOTS if most is None or lot_size <= most)[LEVELS.index(level)]


def _cell(severity: str, rank: int) -> _Cell:
    """Acceptance and rejection number, or where to go, at letter rank + AQL rank."""
    zero = 15 if severity == TIGHTENED else 14
    if rank == zero:
        return 0, 1
    if rank < zero:
        return _DOWN
    if severity == TIGHTENED:
        if rank < 18:
            return _DOWN
        return (_TIGHTENED[rank - 18], _TIGHTENED[rank - 18] + 1) if rank - 18 < len(_TIGHTENED) else _UP
    if rank == 15:
        return _UP
    if rank == 16:
        return _DOWN
    if rank - 17 >= len(_NORMAL):
        return _UP
    return _REDUCED[rank - 17] if severity == REDUCED else (_NORMAL[rank - 17], _NORMAL[rank - 17] + 1)


def _resolved(severity: str, letter: int, aql: int) -> tuple[int, int, int]:
    """Letter, acceptance and rejection number at the end of the arrows."""
    last = 16 if severity == TIGHTENED else 15
    step = 0
    while True:
        cell = _cell(severity, letter + aql)
        if not isinstance(cell, str):
            return letter, *cell
        step = step or (1 if cell == _DOWN else -1)
        if not 0 <= letter + step <= last:
            step = -step
        letter += step


def sampling_plan(lot_size: int, aql: float, level: str = "II", severity: str = NORMAL) -> SamplingPlan:
    """Single sampling plan of a lot (Tables I and II-A, II-B, II-C).

    Parameters
    ----------
    lot_size
        Units in the lot, 2 or more.
    aql
        Per cent nonconforming, one of :data:`AQLS`.
    level
        Inspection level: I, II, III, S-1 to S-4.
    severity
        normal, tightened or reduced.

    Returns
    -------
    SamplingPlan

    Raises
    ------
    CaseError
        As :func:`code_letter`, or an AQL that the tables do not have, or an unknown severity.

    Examples
    --------
    >>> plan = sampling_plan(40, 2.5)
    >>> plan.first_letter, plan.letter, plan.sample, plan.accept
    ('D', 'C', 5, 0)
    """
    first = code_letter(lot_size, level)
    if aql not in AQLS:
        raise CaseError("aql", f"aql is {aql:g}; give one of {', '.join(f'{each:g}' for each in AQLS)} per cent.")
    if severity not in (NORMAL, TIGHTENED, REDUCED):
        raise CaseError("severity", f"severity is '{severity}'; give {NORMAL}, {TIGHTENED} or {REDUCED}.")
    letter, accept, reject = _resolved(severity, LETTERS.index(first), AQLS.index(aql))
    size = (_REDUCED_SIZES if severity == REDUCED else _SIZES)[letter]
    return SamplingPlan(
        lot_size=lot_size,
        level=level,
        severity=severity,
        aql=aql,
        first_letter=first,
        letter=LETTERS[letter],
        sample=min(size, lot_size),
        accept=accept,
        reject=reject,
        whole_lot=size >= lot_size,
    )


def acceptance_probability(
    sample: int, accept: int, share: float, lot_size: int | None = None, law: str = "binomial"
) -> float:
    """Chance that a lot is accepted.

    Parameters
    ----------
    sample, accept
        Of the plan.
    share
        Share of nonconforming units, 0 to 1.
    lot_size
        If given, the units are drawn from this lot without putting back (hypergeometric; the share is rounded to whole
        units).
    law
        ``binomial`` or ``poisson``, for a lot without a size.

    Raises
    ------
    CaseError
        A share outside 0 to 1, a sample larger than its lot, an unknown law.
    """
    if not 0 <= share <= 1:
        raise CaseError("share", f"share is {share}; give a share from 0 to 1.")
    if lot_size is not None:
        if sample > lot_size:
            raise CaseError(
                "sample", f"sample is {sample} of a lot of {lot_size}; a sample is not larger than its lot."
            )
        return float(hypergeom.cdf(accept, lot_size, round(share * lot_size), sample))
    if law == "poisson":
        return float(poisson.cdf(accept, sample * share))
    if law != "binomial":
        raise CaseError("law", f"law is '{law}'; give binomial or poisson.")
    return float(binom.cdf(accept, sample, share))


def after_lot(
    state: Switching,
    plan: SamplingPlan,
    found: int,
    critical: int = 0,
    steady: bool = False,
    approved: bool = False,
    original: bool = True,
) -> Switching:
    """Where a series stands after one more lot.

    Parameters
    ----------
    state
        Before the lot; its severity must be that of the plan.
    plan, found, critical
        Plan of the lot, nonconforming units in the sample, critical ones among them.
    steady, approved
        Production runs at a steady rate; the responsible person wants reduced inspection. Both are needed for it; when
        production is not steady, reduced inspection ends.
    original
        False for a lot that was presented again: it does not count.

    Returns
    -------
    Switching
        Normal to tightened when 2 of 5 or fewer lots in a row were rejected; back after 5 accepted in a row; to reduced
        from a switching score of 30 on; back to normal with the first lot that is rejected or only just accepted;
        stopped with the fifth lot rejected on tightened.

    Raises
    ------
    CaseError
        A plan of another severity, a count that cannot be, or a series that was stopped.
    """
    if plan.severity != state.severity:
        raise CaseError(
            "plan", f"plan is of {plan.severity} inspection, but {state.severity} is in force; use that plan."
        )
    if state.stopped:
        raise CaseError("state", "state: inspection was stopped; QA starts it again when the cause is mended.")
    word = plan.decide(found, critical)
    if not original:
        return state
    if state.severity == TIGHTENED:
        return _after_tightened(state, word)
    if state.severity == REDUCED:
        return state if word == ACCEPTED and steady else Switching(NORMAL)
    accepted = word == ACCEPTED
    recent = (*state.recent, accepted)[-OF_LOTS:]
    if recent.count(False) >= REJECTED_FOR_TIGHTENED:
        return Switching(TIGHTENED)
    gained = _score(plan, found) if accepted else 0
    score = state.score + gained if gained else 0
    if score >= SCORE_FOR_REDUCED and steady and approved:
        return Switching(REDUCED)
    return Switching(NORMAL, recent, 0, score)


def _after_tightened(state: Switching, word: str) -> Switching:
    if word == REJECTED:
        rejected = state.rejected + 1
        return replace(state, in_row=0, rejected=rejected, stopped=rejected >= REJECTED_TO_STOP)
    in_row = state.in_row + 1
    return Switching(NORMAL) if in_row >= ACCEPTED_FOR_NORMAL else replace(state, in_row=in_row)


def _score(plan: SamplingPlan, found: int) -> int:
    """What an accepted lot adds to the switching score; 0 sets it back."""
    if plan.accept < 2:
        return 2
    _, tighter, _ = _resolved(NORMAL, LETTERS.index(plan.letter), AQLS.index(plan.aql) - 1)
    return 3 if found <= tighter else 0


def drawn(items: Sequence[str], count: int, seed: str) -> tuple[str, ...]:
    """A random choice that anybody can draw again from its printed seed.

    Items are ranked by the SHA-256 of seed and item, which depends on no program's random numbers; the order in which
    they are listed does not matter.

    Parameters
    ----------
    items
        Names, each once.
    count
        How many; all of them if there are fewer.
    seed
        Printed with the result. Fix it before the items are known.

    Raises
    ------
    CaseError
        A name twice, or a count below 0.
    """
    if len(set(items)) != len(items):
        raise CaseError("items", "items names something twice; list each once.")
    if count < 0:
        raise CaseError("count", f"count is {count}; give 0 or more.")
    ranked = sorted(items, key=lambda item: (hashlib.sha256(f"{seed}\n{item}".encode()).digest(), item))
    return tuple(ranked[:count])

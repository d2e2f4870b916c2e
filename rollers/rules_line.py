"""Pure rules of what stands against a position beside its tape: locks, losses, recalls, looks, open work. No ORM."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime

from rollers.rules import APPLIERS, CHECKERS, STRICT, SUPERVISOR, Finding, Place, Required, Weight, strictly
from rollers.rules_application import Look

ENGINEER, SIZERS, MAINTENANCE = "the process engineer", "a person with Size", "maintenance"


@dataclass(frozen=True)
class Matters:
    """What is on record about one position beside the tape itself."""

    locks: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    recalled: str = ""
    contaminating: bool = False
    look: Look | None = None
    life_ends: datetime | None = None
    conflict: bool = False
    unsafe: bool = False
    fix: tuple[str, ...] = ()
    cause_due: datetime | None = None
    without_due: datetime | None = None
    review_due: datetime | None = None
    restart_open: bool = False
    job_open: str = ""
    diameters: tuple[float, float] | None = field(default=None)
    """The roller's diameter when the recipe was computed, and now, mm; only where they differ."""


def standing(
    place: Place, required: Required, matters: Matters, at: datetime, change_pct: float, *, running: bool = False
) -> list[Finding]:
    """Everything to say about a position beside what is on it, in no order."""
    return [
        *_never_passed(place, matters, running=running),
        *_open_work(place, matters, at),
        *_looks(place, matters, at),
        *_diameter(place, required, matters, change_pct),
    ]


def off_path(place: Place, matters: Matters, *, running: bool = False) -> list[Finding]:
    """What stops a line even from a roller that the web does not pass: a missing piece, a recalled lot."""
    found = _never_passed(place, matters, running=running)
    return [one for one in found if one.code in ("missing-piece", "recalled-lot")]


def _never_passed(place: Place, matters: Matters, *, running: bool) -> list[Finding]:
    found = [
        Finding("lock-on", Weight.BLOCK, f"{place.code}: {lock} is still on. Take it off before the line starts.", who)
        for lock, who in ((one, "the person whose lock it is") for one in matters.locks)
    ]
    found += [Finding("missing-piece", strictly(place), said, "QA") for said in matters.missing]
    if matters.recalled:
        # A lot that contaminates stops a food or medical room at once; another one at the end of the present roll.
        later = running and not matters.contaminating
        when = "at the end of this roll" if later else "now"
        sentence = f"{place.code}: tape of {matters.recalled} is on, which is recalled. Take it off {when} and count."
        found.append(Finding("recalled-lot", Weight.CAUTION if later else strictly(place), sentence, APPLIERS))
    if matters.conflict:
        sentence = (
            f"{place.code}: two people recorded different things. Somebody with Check who made neither entry looks."
        )
        found.append(Finding("conflict", Weight.BLOCK, sentence, CHECKERS))
    if matters.unsafe:
        sentence = f"{place.code}: the recipe of this tape was withdrawn for safety. Take the tape off."
        found.append(Finding("unsafe-recipe", Weight.BLOCK, sentence, APPLIERS))
    return found


def _open_work(place: Place, matters: Matters, at: datetime) -> list[Finding]:
    found = [Finding("fix-first", Weight.BLOCK, f"{place.code}: {said}", SUPERVISOR) for said in matters.fix]
    if matters.job_open:
        found.append(Finding("job-open", Weight.BLOCK, f"{place.code}: {matters.job_open}", APPLIERS))
    if matters.cause_due is not None:
        over = matters.cause_due <= at
        weight = Weight.BLOCK if over else Weight.CAUTION
        sentence = (
            f"{place.code}: taped in an emergency; line walk and cause sheet "
            f"{'were' if over else 'are'} due {matters.cause_due:%d %b %H:%M} UTC"
            f"{'. Record them, or take the tape off.' if over else ', or the tape comes off.'}"
        )
        found.append(Finding("cause-sheet-due", weight, sentence, ENGINEER))
    if matters.without_due is not None and matters.without_due <= at:
        sentence = f"{place.code}: the cause was mended; a run without tape is overdue. Try it, or say why not."
        found.append(Finding("run-without-due", Weight.CAUTION, sentence, ENGINEER))
    if matters.review_due is not None and matters.review_due <= at:
        sentence = f"{place.code}: is this tape still needed? The review is overdue; it is not put on again until then."
        found.append(Finding("review-overdue", Weight.NOTICE, sentence, ENGINEER))
    if matters.restart_open:
        sentence = f"{place.code}: the three restart steps were not all recorded; record them in this run."
        found.append(Finding("restart-open", Weight.NOTICE, sentence, APPLIERS))
    return found


def _looks(place: Place, matters: Matters, at: datetime) -> list[Finding]:
    found = []
    dated = [("look-overdue", "the look at this tape", matters.look.due, matters.look.late)] if matters.look else []
    if matters.life_ends is not None:
        dated.append(("life-over", "the life of this tape", matters.life_ends, matters.life_ends))
    for code, what, due, until in dated:
        if due > at:
            continue
        over = until <= at
        word = "ended" if code == "life-over" else "was due"
        do = "Take it off and tape again." if code == "life-over" else "Look: lift, tail, ooze, dirt, moved, count."
        sentence = f"{place.code}: {what} {word} {due:%d %b %H:%M} UTC. {do}"
        found.append(Finding(code, Weight.BLOCK if over else Weight.CAUTION, sentence, APPLIERS))
    return found


def _diameter(place: Place, required: Required, matters: Matters, change_pct: float) -> list[Finding]:
    if matters.diameters is None or required.kind != "taped":
        return []
    then, now = matters.diameters
    change = 100 * abs(now - then) / then
    said = f"{place.code}: the roller has {now:g} mm now, {required.label} was computed for {then:g} mm"
    if change > change_pct:
        sentence = f"{said} ({change:.1f} % change). A person with Size tests it again."
        return [Finding("needs-re-check", strictly(place), sentence, SIZERS)]
    return [Finding("diameter-note", Weight.NOTICE, f"{said} ({change:.1f} % change): within {change_pct:g} %.")]


def stock_troubles(
    stock: str,
    *,
    room_kind: str,
    permitted: Collection[str],
    on_contact_side: bool,
    statement_ends: date | None,
    day: date,
) -> tuple[str, ...]:
    """What speaks against a tape stock where it sits: the room, and the web side that will touch the product."""
    troubles = []
    if room_kind not in permitted:
        troubles.append(f"tape {stock} is not permitted in a {room_kind} room. Take it off.")
    elif room_kind in STRICT and on_contact_side and (statement_ends is None or statement_ends < day):
        ended = f"ended on {statement_ends}" if statement_ends else "is not recorded"
        troubles.append(f"tape {stock} touches the product's contact side and its contact statement {ended}.")
    return tuple(troubles)

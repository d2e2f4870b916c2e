"""What two persons may let pass for a short time, and what nobody may. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from rollers.rules import STRICT, Finding, Weight

# Only these rules can be passed. Everything else stops the line whoever signs: lockout not confirmed, a missing piece,
# a recalled lot, a hard limit, tape over its temperature, an uncertified person in a clean room, the same person twice.
PASSABLE = {
    "look-overdue": "a late look at tape",
    "life-over": "tape past its life",
    "undecided": "no recipe is signed for this product",
    "needs-re-check": "a recipe that waits for its re-check",
    "cannot-tell": "a check that cannot tell",
    "older-recipe": "tape of an older recipe",
    "unknown": "a roller nobody looked at",
    "residue": "residue on a bare roller",
    "no-recipe": "tape without a recipe",
    "cause-sheet-due": "an overdue cause sheet",
    "not-checked": "a check by a second person that is late",
    "not-certified": "a certificate that lapsed",
    "outside-window": "a tension outside the recipe's window",
}
GENERAL_ONLY = frozenset({"unknown", "not-checked", "not-certified", "no-recipe", "residue"})
REASONS = {
    "person-absent": "the person who could clear it is not here",
    "waits-for-part": "a part or a tape is awaited",
    "end-of-order": "the order ends within this shift",
    "measuring": "it is being measured now",
    "other": "something else, as written",
}
SHORTEST_REASON = 20


@dataclass(frozen=True)
class Passed:
    """An override that holds: one rule, one line, perhaps one position."""

    code: str
    position: str
    until: datetime
    reason: str
    names: str


def why_not(code: str, room_kinds: Iterable[str]) -> str:
    """Why a rule cannot be passed in rooms of these kinds; empty where it can."""
    if code not in PASSABLE:
        return "This is never passed, whoever signs. What clears it stands beside the block."
    if code in GENERAL_ONLY and any(kind in STRICT for kind in room_kinds):
        return f"In food and medical rooms {PASSABLE[code]} is never passed. What clears it stands beside the block."
    return ""


def end_of(begins: datetime, wanted: datetime, shift_ends: datetime | None, most_hours: float) -> datetime:
    """When an override ends: as asked, but not after the shift and not after so many hours."""
    latest = begins + timedelta(hours=most_hours)
    if shift_ends is not None:
        latest = min(latest, shift_ends)
    return min(wanted, latest)


def let_pass(position: str, found: Iterable[Finding], passed: Iterable[Passed]) -> list[Finding]:
    """Findings of a position with those that an override lets pass turned into cautions that name it."""
    holding = [one for one in passed if one.position in ("", position)]

    def turned(finding: Finding) -> Finding:
        match = next((one for one in holding if one.code == finding.code), None)
        if match is None or finding.weight != Weight.BLOCK:
            return finding
        said = f"{finding.sentence} Passed until {match.until:%d %b %H:%M} UTC by {match.names}: {match.reason}"
        return replace(finding, weight=Weight.CAUTION, sentence=said)

    return [turned(finding) for finding in found]

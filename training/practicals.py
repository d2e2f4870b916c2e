"""The practical assessments: what is watched, which steps are critical, and how many must be done.

The steps are our own wording of the work as this plant does it; common practice of the trade, no source.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from random import Random
from typing import Any

from training.standard_skills import APPLY, ASSESS, CHECK, FOOD, HOT, MEDICAL, SIZE, TEACH

DONE, NOT_DONE, NOT_SEEN = "done", "not-done", "not-seen"


@dataclass(frozen=True)
class Step:
    """One thing to watch. A critical step that is missed means *not yet*."""

    text: str
    critical: bool = False


@dataclass(frozen=True)
class Practical:
    """One kind of practical assessment."""

    kind: str
    title: str
    skills: tuple[str, ...]
    steps: tuple[Step, ...]
    least: int
    draws_roller: bool = True
    before: str = ""

    def as_record(self) -> dict[str, Any]:
        """What an assessment keeps, so that a later list changes nothing about it."""
        return {
            "title": self.title,
            "least": self.least,
            "before": self.before,
            "steps": [asdict(step) for step in self.steps],
        }


LOCKOUT = "Locks out by the plant's procedure, tries to start, releases stored tension"
BEFORE_HANDS = (
    "Lock out by the plant's procedure and try for zero energy before a hand goes near a roller. "
    "Stop the assessment at once if anybody is in danger; a stop costs nobody the certificate."
)
AT_THE_DESK = "Figures are start values: the trial on the line decides. No machine is touched in this assessment."

PRACTICALS: tuple[Practical, ...] = (
    Practical(
        "taping",
        "Tape a roller",
        (APPLY,),
        (
            Step("Scans the roller and reads back recipe and version", critical=True),
            Step("Checks the own certificate and the state of the tape lot"),
            Step(LOCKOUT, critical=True),
            Step("Keeps hands out of nips; guarded knife, cut away from the body", critical=True),
            Step("Cleans and dries the face, looks for residue and damage"),
            Step("Marks the band from the roller centre at both ends and checks it against the web edge"),
            Step("Says the running direction before winding"),
            Step("Winds so that the tail trails", critical=True),
            Step("Right number of wraps in each lane, finish over the start within 2 mm", critical=True),
            Step("Presses down: no bubbles, no lane over another"),
            Step("Measures build and position at both ends and writes them down before leaving"),
            Step("Counts pieces, offcuts, liner and knife", critical=True),
            Step("Hands over to the checker and does not coach the checker"),
            Step("Clears tools and people; restarts crawl, half, full, with the grade at each", critical=True),
            Step("Removes one lane on request, lays out the pieces, cleans residue, closes the record"),
        ),
        12,
        before=BEFORE_HANDS,
    ),
    Practical(
        "planted-faults",
        "Check a roller with six planted faults",
        (CHECK,),
        (
            Step(LOCKOUT, critical=True),
            Step("Finds the tail that leads"),
            Step("Finds the lane with a wrap too many or too few"),
            Step("Finds the band that lies off its position"),
            Step("Finds the lane that overlaps its neighbour"),
            Step("Finds the count that does not agree with the record"),
            Step("Finds the tape whose lot or stock is not the recipe's"),
        ),
        6,
        before=BEFORE_HANDS,
    ),
    Practical(
        "line-walk",
        "Walk a line back to the first roller",
        (SIZE,),
        (
            Step("Stays outside guards and looks through the fixed windows", critical=True),
            Step("Names the first roller that shows the wrinkle and the span that enters it", critical=True),
            Step("Tells a baggy lane from a crooked roller by how the ridges lie"),
            Step("Asks for the alignment figure before any tape is spoken of", critical=True),
            Step("Asks for tension and speed as they were when it began"),
            Step("Leaves what was not looked at marked as not checked"),
        ),
        5,
        draws_roller=False,
        before="Nothing is touched on a running line; looking is done from the fixed places.",
    ),
    Practical(
        "sizing",
        "Size one recipe",
        (SIZE,),
        (
            Step("Takes thickness, modulus and tension from the records, with their units", critical=True),
            Step("Works out the line strain and says what it means"),
            Step("Chooses wraps from the strain, not from the grade of the wrinkle", critical=True),
            Step("Looks at the worst corner of tension and speed", critical=True),
            Step("Reads traction and says what happens when the web floats"),
            Step("Checks every width that runs against the inner edge of the band"),
            Step("Says what the figure cannot tell and what the trial has to show"),
        ),
        6,
        draws_roller=False,
        before=AT_THE_DESK,
    ),
    Practical(
        "no-tape-case",
        "A case where tape is no answer",
        (SIZE,),
        (
            Step("Says that tape would gather or damage here, and why", critical=True),
            Step("Names the cause that should be mended instead"),
            Step("Names who mends it and asks for it in writing"),
            Step("Leaves the roller recorded as bare", critical=True),
        ),
        4,
        draws_roller=False,
        before=AT_THE_DESK,
    ),
    Practical(
        "count-drill",
        "Count, torn piece and missing piece",
        (FOOD, MEDICAL),
        (
            Step("Dresses and washes by the rule of the room", critical=True),
            Step("Brings in only counted tape and a numbered knife"),
            Step("Counts the pieces on, says the number aloud, writes it down", critical=True),
            Step("Counts the pieces off and lays them side by side"),
            Step("Lays a torn piece together until it is complete, with a second person", critical=True),
            Step(
                "With one piece missing: stops, holds, calls QA, and does not search with the line running",
                critical=True,
            ),
            Step("Says from when the product is held: the last count that was right"),
            Step("Changes no figure to make the count agree", critical=True),
        ),
        7,
        before=BEFORE_HANDS,
    ),
    Practical(
        "hot-roller",
        "Work at a hot roller",
        (HOT,),
        (
            Step(LOCKOUT, critical=True),
            Step("Reads the temperature of the face before a hand goes near", critical=True),
            Step("Waits until it is cool enough by the plant's limit", critical=True),
            Step("Checks that the tape is allowed at this temperature"),
            Step("Ventilates, and uses only the agent that is approved"),
            Step("Looks for softened adhesive after the first hour and writes it down"),
        ),
        5,
        before="A hot face burns before it is felt. Temperature first, by the plant's own procedure.",
    ),
    Practical(
        "observed-session",
        "A session taught under observation",
        (TEACH,),
        (
            Step("Says at the start what the learners will be able to do"),
            Step("Gives the cautions before the step, not after it", critical=True),
            Step("Shows the work once, then lets hands do it"),
            Step("Asks questions that a guess cannot answer"),
            Step("Corrects the work, not the person"),
            Step("Says what is not known instead of inventing it", critical=True),
            Step("Records attendance of each person, one by one"),
        ),
        6,
        draws_roller=False,
    ),
)
BY_KIND: Mapping[str, Practical] = {each.kind: each for each in PRACTICALS}
# Assess is shown by marking beside another assessor, see `training.models.Marking`.
JOINT_MARKINGS = {ASSESS: 2}
LEAST_AGREEMENT = 90


def practicals_for(skill_code: str) -> list[Practical]:
    """The kinds that a skill asks for."""
    return [each for each in PRACTICALS if skill_code in each.skills]


@dataclass(frozen=True)
class Outcome:
    """What the marks of an assessment come to."""

    passed: bool
    done: int
    asked: int
    missed: list[int]
    unmarked: list[int]


def outcome(steps: Mapping[str, Any], marks: Mapping[int, str]) -> Outcome:
    """All critical steps done, and enough of all. Not seen is not done."""
    listed = list(enumerate(steps["steps"], start=1))
    done = sum(marks.get(number) == DONE for number, _ in listed)
    missed = [number for number, step in listed if step["critical"] and marks.get(number) != DONE]
    unmarked = [number for number, _ in listed if number not in marks]
    return Outcome(not missed and not unmarked and done >= steps["least"], done, len(listed), missed, unmarked)


def agreement(first: Mapping[int, str], second: Mapping[int, str]) -> int:
    """Steps that two assessors marked alike, in per cent of the steps, rounded down so that 89.9 never reads 90."""
    steps = set(first) | set(second)
    return 100 * sum(first.get(step) == second.get(step) for step in steps) // len(steps) if steps else 0


def marked_again(seed: str, place: int, block: int, drawn_already: bool) -> bool:
    """Whether the assessment at this place of a block (0 the first) is marked a second time.

    Exactly one of each block, each place alike, and nobody knows before the end which: the seed of the assessment
    itself decides with the chance 1 in what is left of the block.
    """
    left = block - place
    return not drawn_already and Random(f"again {seed}").randrange(left) == 0  # noqa: S311  (repeatable from the seed)

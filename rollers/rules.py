"""Pure rules of readiness: what must be on a roller, what is on it, and what follows. No ORM."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

STRICT = ("food", "medical")


class Weight(StrEnum):
    """How much a finding weighs. Blocks stop the release; the others are said."""

    BLOCK = "block"
    CAUTION = "caution"
    NOTICE = "notice"


@dataclass(frozen=True)
class Finding:
    """One thing about one position. `who` says who clears it."""

    code: str
    weight: Weight
    sentence: str
    who: str = ""


@dataclass(frozen=True)
class Required:
    """What belongs on a position for a product. `undecided` is not bare."""

    kind: str  # "bare", "taped" or "undecided"
    version_id: int | None = None
    label: str = ""
    by_type: bool = False
    superseded: bool = False
    computed_for_current: bool = True
    changed_days: float = 0.0  # since the product's data changed
    may_wait_days: float = 7.0
    running: bool = False  # asked for the run that goes on now, not for the next one


@dataclass(frozen=True)
class OnRoller:
    """What is on a roller by its newest fact."""

    state: str
    version_id: int | None = None
    label: str = ""
    measured: bool = False
    checked: bool = False
    orientation: str = ""
    rotation: str = ""
    pieces: int = 0
    stock_troubles: tuple[str, ...] = ()
    same_tape: bool = False  # another recipe version, but the same tape in the same place
    older: bool = False  # an older version of the recipe that is asked for


@dataclass(frozen=True)
class Place:
    """The position as it stands now."""

    code: str
    room_kind: str
    body: str = ""
    orientation: str = "normal"
    rotation: str = "cw"


@dataclass(frozen=True)
class Judged:
    """The calculation of what is on the roller against the product: overall word and (id, verdict, sentence) rows."""

    overall: str = ""
    checks: tuple[tuple[str, str, str], ...] = ()
    notices: tuple[str, ...] = ()
    trouble: str = ""
    accepted: frozenset[str] = field(default_factory=frozenset)


EDGE_ON_STEP = "rides_step"  # the check of the web edge against the inner band edge
APPLIERS = "a person with Apply for this room"
CHECKERS = "a second person with Check for this room"
SUPERVISOR = "the shift supervisor"


def strictly(place: Place) -> Weight:
    """A block in food and medical rooms, a caution elsewhere."""
    return Weight.BLOCK if place.room_kind in STRICT else Weight.CAUTION


def findings(place: Place, required: Required, on: OnRoller, judged: Judged) -> list[Finding]:
    """Everything to say about one position for one product, worst first."""
    if not place.body:
        sentence = f"{place.code}: no roller is recorded here. Record which body is mounted."
        return [Finding("no-body", Weight.BLOCK, sentence, "maintenance")]
    found = [*_state(place, required, on), *_requirement(place, required, on, judged)]
    if on.state == "taped":
        found += _mounted_as_wound(place, on)
        found += [Finding("stock", Weight.BLOCK, f"{place.code}: {said}", "QA") for said in on.stock_troubles]
        # Where tape must come off anyway, the removal says why; the single checks are not repeated.
        if required.kind != "bare":
            found += _mechanics(place, judged)
    order = list(Weight)
    return sorted(found, key=lambda finding: order.index(finding.weight))


def _state(place: Place, required: Required, on: OnRoller) -> list[Finding]:
    if on.state == "unknown":
        sentence = f"{place.code}: what is on {place.body} is not known. Look at the roller and record it."
        weight = strictly(place)
        if on.pieces:
            # Whatever was found beside them: pieces on record that nobody counted off stop every room.
            weight = Weight.BLOCK
            sentence += f" {on.pieces} pieces are on record: take the tape off and count."
        return [
            Finding(
                "unknown",
                weight,
                sentence,
                "anyone who looks and records; tape: QA in strict rooms",
            )
        ]
    if on.state == "partial":
        sentence = (
            f"{place.code}: only part of the tape is on ({on.pieces} pieces left). "
            "Take the rest off, or put on the whole recipe."
        )
        return [Finding("partial", Weight.BLOCK, sentence, APPLIERS)]
    if on.state == "residue":
        weight = Weight.BLOCK if required.kind == "taped" else strictly(place)
        return [Finding("residue", weight, f"{place.code}: residue is on the face. Clean it and look.", APPLIERS)]
    return []


def _requirement(place: Place, required: Required, on: OnRoller, judged: Judged) -> list[Finding]:
    if required.kind == "bare":
        return _must_be_bare(place, required, on, judged)
    if required.kind == "undecided":
        sentence = f"{place.code}: undecided for this product. Undecided is not bare: sign a product sheet or a recipe."
        found = [Finding("undecided", strictly(place), sentence, SUPERVISOR)]
        if on.state == "taped" and on.version_id is None:
            sentence = f"{place.code}: tape without a recipe is on, so nothing can be computed for it. Take it off."
            found.append(Finding("no-recipe", strictly(place), sentence, APPLIERS))
        return found
    found = []
    if required.superseded:
        sentence = f"{place.code}: the product sheet names {required.label}, which is not in force. Sign a new sheet."
        found.append(Finding("sheet-outdated", Weight.BLOCK, sentence, SUPERVISOR))
    if not required.computed_for_current:
        found.append(_needs_re_check(place, required))
    if on.state == "bare":
        found.append(Finding("apply", Weight.BLOCK, f"{place.code}: put on {required.label}.", APPLIERS))
    elif on.state == "taped" and on.version_id != required.version_id and not on.same_tape:
        found.append(_another(place, required, on))
    elif on.state == "taped":
        found += _proof(place, on)
    return found


def _needs_re_check(place: Place, required: Required) -> Finding:
    """General rooms run on for some days; food and medical rooms end their present run and no more."""
    strict = place.room_kind in STRICT
    over = not required.running if strict else required.changed_days > required.may_wait_days
    sentence = f"{place.code}: product data changed since {required.label} was computed. Size it again."
    return Finding("needs-re-check", Weight.BLOCK if over else Weight.CAUTION, sentence, "a person with Size")


def _another(place: Place, required: Required, on: OnRoller) -> Finding:
    """Tape of an older version may stay while its run goes on; at the next changeover it is changed."""
    if on.older and required.running:
        sentence = f"{place.code}: {on.label} is an older recipe; change to {required.label} at the next changeover."
        return Finding("older-recipe", Weight.CAUTION, sentence, APPLIERS)
    sentence = f"{place.code}: {on.label} is on; this product takes {required.label}. Change the tape."
    return Finding("other-recipe", Weight.BLOCK, sentence, APPLIERS)


def _must_be_bare(place: Place, required: Required, on: OnRoller, judged: Judged) -> list[Finding]:
    if on.state != "taped":
        return []
    why = "this kind of roller is never taped" if required.by_type else "this product runs bare here"
    refused = {check: sentence for check, verdict, sentence in judged.checks if verdict == "refused"}
    worst = f" {next(iter(refused.values()))}" if refused else ""
    code = "edge-on-step" if EDGE_ON_STEP in refused else "remove"
    return [Finding(code, Weight.BLOCK, f"{place.code}: take off {on.label}; {why}.{worst}", APPLIERS)]


def _proof(place: Place, on: OnRoller) -> list[Finding]:
    if not on.measured:
        sentence = f"{place.code}: {on.label} is on but not measured. Measure the build at each taped end."
        return [Finding("not-measured", Weight.BLOCK, sentence, APPLIERS)]
    if not on.checked:
        strict = place.room_kind in STRICT
        when = f"the {place.room_kind} room asks for it before release" if strict else "due by the end of the shift"
        sentence = f"{place.code}: {on.label} is not checked by a second person yet; {when}."
        return [Finding("not-checked", Weight.BLOCK if strict else Weight.NOTICE, sentence, CHECKERS)]
    return []


def _mounted_as_wound(place: Place, on: OnRoller) -> list[Finding]:
    turned = on.orientation and on.orientation != place.orientation
    reversed_ = on.rotation and on.rotation != place.rotation
    if turned and not reversed_:
        what = "the roller was turned end for end since: the tail leads now and one-end tape is at the wrong end"
    elif reversed_ and not turned:
        what = "the roller turns the other way now: the tail leads"
    elif turned:
        what = "the roller was turned end for end and turns the other way: one-end tape is at the wrong end"
    else:
        return []
    sentence = f"{place.code}: tape not compliant, {what}. Take it off and tape again."
    return [Finding("not-compliant", Weight.BLOCK, sentence, APPLIERS)]


def _mechanics(place: Place, judged: Judged) -> list[Finding]:
    if judged.trouble:
        return [Finding("cannot-compute", strictly(place), f"{place.code}: {judged.trouble}", "the process engineer")]
    found = []
    for check, verdict, sentence in judged.checks:
        if verdict == "refused":
            code = "edge-on-step" if check == EDGE_ON_STEP else "refused"
            found.append(Finding(code, Weight.BLOCK, f"{place.code}: {sentence}", "the process engineer"))
        elif verdict == "cannot tell":
            found.append(Finding("cannot-tell", strictly(place), f"{place.code}: {sentence}", "the process engineer"))
        elif verdict == "caution":
            accepted = check in judged.accepted
            weight = Weight.NOTICE if accepted else Weight.CAUTION
            said = " Accepted with a reason in the recipe." if accepted else ""
            found.append(Finding("caution", weight, f"{place.code}: {sentence}{said}", "the process engineer"))
    return found + [Finding("notice", Weight.NOTICE, f"{place.code}: {notice}") for notice in judged.notices]


def deciding_check(result: dict[str, Any]) -> dict[str, Any] | None:
    """The check behind a verdict: of those with the overall word, the one nearest to its limit or farthest past it."""
    told = [check for check in result["checks"] if check["verdict"] == result["verdict"]]
    # The kind of roller is a yes or no: it always sits on its limit and would win whenever everything fits.
    told = [check for check in told if check["id"] != "kind"] or told

    def closeness(check: dict[str, Any]) -> float:
        if check["margin"] is None:  # infinite: nothing holds any more
            return float("-inf")
        return check["margin"] / (abs(check["limit"] or 0) or 1.0)

    return min(told, key=closeness, default=None)


# --- recipe approval -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Needed:
    """A signature a recipe version still needs."""

    meaning: str
    who: str


AUTHORED, SECOND, APPROVED, QA_APPROVED = "authored", "second size", "approved", "QA approved"


def signatures_needed(*, room_kind: str, cautions: bool, bare: bool, given: frozenset[str]) -> list[Needed]:
    """What is missing before a checked version comes into force.

    A caution (or cannot tell) that was accepted asks for a second Size person; food and medical rooms ask for QA.
    """
    wanted = [Needed(AUTHORED, "the author, with Size")]
    if cautions and not bare:
        wanted.append(Needed(SECOND, "another person with Size"))
    wanted.append(Needed(APPROVED, "a shift supervisor who is not the author"))
    if room_kind in STRICT:
        wanted.append(Needed(QA_APPROVED, "QA, not the author"))
    return [needed for needed in wanted if needed.meaning not in given]


def lanes(inner_mm: float, outer_mm: float, tape_width_mm: float) -> int:
    """Lanes of tape side by side in a band; the last may be cut."""
    return max(1, -int(-(outer_mm - inner_mm) // tape_width_mm))


def lane_length_mm(wraps: int, diameter_mm: float, tape_mm: float) -> float:
    """Tape for one lane: n pi (D + n t), mm. Each layer lies on the one below, so the mean diameter is D + n t."""
    return wraps * 3.141592653589793 * (diameter_mm + wraps * tape_mm)

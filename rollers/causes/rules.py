"""Pure rules: what a measured cause comes to, when tape may be decided, how long a trial lasts. No ORM."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from calcs.limits import Limits
from rollers.causes.causerows import CauseRow, is_paperlike

PASS, CAUTION, FAIL, NOT_CHECKED = "pass", "caution", "fail", "not checked"
SHIFT = timedelta(hours=8)
MOST_ROLLS = 3
UNIT_WORDS = {"1": "", "K": " K", "%": " %", "mm": " mm", "mm/m": " mm/m"}


@dataclass(frozen=True)
class WebFacts:
    """What some limits depend on, SI: line strain, roller diameter in m, tension ratio that the wrap can hold."""

    strain: float
    diameter: float
    hold: float
    family: str = ""


@dataclass(frozen=True)
class Judgement:
    """What a value comes to, by which limits."""

    outcome: str
    caution: float | None
    fail: float | None
    source: str
    sentence: str

    def limits(self, version: str) -> dict[str, object]:
        """The limits as they are kept with the value."""
        return {"caution": self.caution, "fail": self.fail, "source": self.source, "version": version}


def figure(value: float | None, unit: str) -> str:
    """A value with its unit, three figures."""
    return "–" if value is None else f"{value:.3g}{UNIT_WORDS.get(unit, f' {unit}')}"


def limits_of(row: CauseRow, limits: Limits, facts: WebFacts) -> tuple[float | None, float | None, str]:
    """Caution, fail and source of a cause for this web on this roller."""
    if row.code == "lane":
        found = limits["cause_lane_paper" if is_paperlike(facts.family) else "cause_lane_film"]
        return found.caution, found.refuse, found.source
    found = limits[row.limits[0]]
    if row.code == "diameter":
        by_strain = limits.refuse("cause_diameter_strain") * facts.strain * facts.diameter * 1e3
        fixed = limits.refuse("cause_diameter_spread")
        if by_strain < fixed:
            return None, by_strain, limits["cause_diameter_strain"].source
    if row.code == "drag":
        carried = facts.hold * 100
        return found.caution, min(carried, found.refuse or carried), found.source
    return found.caution, found.refuse, found.source


def judge(row: CauseRow, value: float, limits: Limits, facts: WebFacts, uncertainty: float | None = None) -> Judgement:
    """Pass, caution or fail; a value that the gauge cannot tell from its limit says so.

    `value` and `uncertainty` (expanded, k = 2) in the row's unit; signs do not matter.
    """
    caution, fail, source = limits_of(row, limits, facts)
    size = abs(value)
    past_fail = fail is not None and (size >= fail if row.code == "air" else size > fail + 1e-12)
    past_caution = caution is not None and size > caution + 1e-12
    outcome = FAIL if past_fail else CAUTION if past_caution else PASS
    edges = [("caution", caution), ("fail", fail)]
    known = ", ".join(f"{word} above {figure(edge, row.unit)}" for word, edge in edges if edge is not None)
    sentence = f"{row.title}: {figure(value, row.unit)}, {outcome} ({known})."
    if uncertainty and any(edge is not None and abs(size - edge) <= uncertainty for _, edge in edges):
        sentence += (
            f" With the gauge's ±{figure(uncertainty, row.unit)} it may lie on either side of the limit: "
            "measure again with a finer one."
        )
    return Judgement(outcome, caution, fail, source, sentence)


@dataclass(frozen=True)
class Facts:
    """What the decision about tape is asked on."""

    never_taped: bool
    kind_words: str
    walked: bool
    sheet_closed: bool
    failed: tuple[str, ...]
    not_checked: tuple[str, ...]
    wrap_deg: float | None
    span_mm: float | None
    width_mm: float | None
    taped_on_line: int
    diagonal_at_one_end: bool
    fixable_soon: bool = False
    walk_days: float = 0.0
    sheet_days: float = 0.0
    ground_days: float = 30.0
    tape_cap: int = 3
    fitting_stocks: int | None = None
    place_words: str = ""
    next_product: str = ""

    @property
    def grounded(self) -> bool:
        """Whether a walk and a cause sheet stand behind a decision, and both are young enough."""
        return self.walked and self.sheet_closed and max(self.walk_days, self.sheet_days) <= self.ground_days


def against_tape(facts: Facts, *, one_end: bool, emergency: bool) -> list[str]:
    """What refuses the decision *tape*; empty where nothing does."""
    said = []
    if facts.never_taped:
        said.append(
            f"This roller is never taped ({facts.kind_words}): tape would change what the roller is for. "
            "Decide to fix the cause, to watch, or look at the idler before it."
        )
    if not emergency and not facts.walked:
        said.append("No finished line walk names this roller. Walk the line first, or decide it as an emergency.")
    if not emergency and not facts.sheet_closed:
        said.append("The cause sheet of this roller is not closed. Check the causes first, or decide an emergency.")
    if not emergency:
        said += _too_old(facts)
    if facts.fitting_stocks == 0:
        said.append(
            f"No tape of the plant may sit here: {facts.place_words}. QA can permit a stock; "
            "otherwise fix the cause, or look at the idler before it."
        )
    if facts.failed and facts.fixable_soon:
        said.append(f"{', '.join(facts.failed)}: the cause fails and can be fixed soon. Fix it; tape comes after that.")
    if facts.wrap_deg is not None and facts.wrap_deg < 45:
        said.append(f"The wrap is {facts.wrap_deg:.0f}°; below 45° tape has no hold. Choose another roller.")
    if one_end and not facts.diagonal_at_one_end:
        said.append(
            "Tape at one end is for diagonal wrinkles at one end; no sighting of the last days says that. "
            "Report what you see, or tape both ends."
        )
    return said


def _too_old(facts: Facts) -> list[str]:
    """Lines change: what was walked and measured long ago does not speak for tape now."""
    old = [
        (word, days, again)
        for word, there, days, again in (
            ("line walk that names this roller", facts.walked, facts.walk_days, "Walk the line again"),
            ("cause sheet of this roller", facts.sheet_closed, facts.sheet_days, "Check the causes again"),
        )
        if there and days > facts.ground_days
    ]
    return [
        f"The {word} is {days:.0f} days old; a decision for tape rests on one of the last {facts.ground_days:g} days. "
        f"{again}, or decide it as an emergency."
        for word, days, again in old
    ]


def warnings_for_tape(facts: Facts) -> list[str]:
    """What is said with the decision *tape*; each needs the reason."""
    said = []
    if facts.failed:
        said.append(f"Failed on the cause sheet: {', '.join(facts.failed)}. Tape does not cure it.")
    if facts.not_checked:
        said.append(f"Not checked: {', '.join(facts.not_checked)}.")
    if facts.wrap_deg is not None and 45 <= facts.wrap_deg < 60:
        said.append(f"The wrap is {facts.wrap_deg:.0f}°, below 60°: little hold.")
    if facts.span_mm and facts.width_mm and facts.span_mm < 0.5 * facts.width_mm:
        said.append("The entering span is shorter than half the web width: spreading hardly has room to work.")
    if facts.taped_on_line >= facts.tape_cap:
        most = facts.tape_cap
        said.append(f"{facts.taped_on_line} rollers of this line carry tape already; {most} are allowed by the plant.")
    if facts.next_product:
        said.append(
            f"The next run planned here is {facts.next_product}, which this is not decided for: its recipe must fit "
            "too, or the tape comes off between the runs."
        )
    return said


def not_checked_sentence(code: str, titles: Collection[str], reasons: Mapping[str, str]) -> str:
    """What stays visible at approval."""
    parts = [f"{title} ({reasons[title]})" if reasons.get(title) else title for title in titles]
    return f"Causes not checked at {code}: {'; '.join(parts)}."


def late(at_seconds: float) -> bool:
    """Whether an entry came more than two hours after what it tells of."""
    return at_seconds > 2 * 3600


def grade_words(grades: Sequence[int]) -> str:
    """Grades of a slow restart in order."""
    return " / ".join(str(grade) for grade in grades)

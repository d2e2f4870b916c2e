"""Does it pay: the studies of one change, priced; every figure can be worked out again from the rows shown."""

from dataclasses import dataclass
from typing import Any

from calcs.benefit import Benefit, Cost, Priced, Saved, benefit
from plant.floor.models import Position
from rollers.causes.models import Study, StudyResult
from rollers.causes.queries import results_of

UNIT = {"wrinkles": "events", "breaks": "breaks", "waste": "kg"}


@dataclass(frozen=True)
class Paying:
    """The newest studies of a roller, one per measure, and the money where prices were given before."""

    position: Position
    rows: tuple[tuple[Study, StudyResult], ...]
    planned: tuple[Study, ...]
    money: Benefit | None
    why_no_money: str
    currency: str

    @property
    def weeks(self) -> float:
        """Length of the window after by the calendar."""
        return max((_weeks(study) for study, _ in self.rows), default=0.0)


def _weeks(study: Study) -> float:
    return (study.after_to - study.after_from).total_seconds() / (7 * 86400)


def paying_of(position: Position) -> Paying:
    """What the page says of one roller."""
    studies = list(
        Study.objects.filter(position=position, replaced_by=None)
        .select_related("product", "position__line")
        .order_by("-pk")
    )
    results = results_of(studies)
    newest: dict[str, tuple[Study, StudyResult]] = {}
    for study in studies:
        if study.pk in results:
            newest.setdefault(study.measure, (study, results[study.pk]))
    order = list(Study.Measure.values)
    rows = tuple(sorted(newest.values(), key=lambda pair: order.index(pair[0].measure)))
    planned = tuple(study for study in studies if study.pk not in results)
    money, why = _money(rows)
    currency = next((study.currency for study, _ in rows if study.currency), "EUR")
    return Paying(position, rows, planned, money, why, currency)


def _money(rows: tuple[tuple[Study, StudyResult], ...]) -> tuple[Benefit | None, str]:
    priced = [
        Priced(
            study.get_measure_display(),
            UNIT[study.measure],
            Saved(**result.answer["saved"]),
            float(study.saved_per_event),
        )
        for study, result in rows
        if study.saved_per_event is not None and "saved" in result.answer
    ]
    costs = [Cost("Tape, work and stops", float(study.cost)) for study, _ in rows if study.cost is not None]
    if not priced or not costs:
        return None, "Money is worked out where a study was planned with what an event costs and what the tape costs."
    if len(costs) > 1:
        return None, "Two studies name the cost of the same tape. Plan it once, with one of them."
    currencies = {study.currency for study, _ in rows if study.saved_per_event is not None or study.cost is not None}
    if len(currencies) > 1:
        return None, "The studies name different currencies; plan them in one."
    weeks = max(_weeks(study) for study, _ in rows)
    return benefit(priced, costs, weeks, currencies.pop() or "EUR"), ""


def csv_rows(found: Paying) -> list[dict[str, Any]]:
    """Every row that a figure of the page was counted from."""
    rows = []
    for study, result in found.rows:
        for side in ("before", "after"):
            for row in result.answer["rows"][side]:
                rows.append({"study": study.pk, "measure": study.measure, "window": side, **row})
    return rows

"""The history of one roller position: everything that was seen, measured, decided and done there, in time."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.urls import reverse

from plant.floor.models import Position
from plant.web.svg.grades import grade_drawing
from plant.web.svg.marks import STATES, VERDICTS, mark_svg, state_mark, verdict_mark
from rollers.causes.models import CauseSheet, Order, Remark, Study, StudyResult, WalkResult
from rollers.causes.queries import sightings_at
from rollers.causes.services.sightings import words_of
from rollers.models import Decision, Measurement, TapeFact

MOST = 400  # rows of each kind; more is a matter for the trail


@dataclass(frozen=True)
class Moment:
    """One thing that happened, with a picture where there is one."""

    at: datetime
    kind: str
    words: str
    by: str
    url: str = ""
    picture: str = ""
    photo: int | None = None
    more: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain values for the attachment of a report."""
        return {"at": self.at, "kind": self.kind, "words": self.words, "by": self.by, "more": self.more}


def _sightings(position: Position) -> Iterator[Moment]:
    for row in sightings_at(position)[:MOST]:
        yield Moment(
            row.at,
            "seen" if row.grade else "looked",
            words_of(row),
            row.by.name,
            picture=grade_drawing(row.grade, f"t-{row.pk}"),
            photo=row.photo_id,
            more=row.note,
        )


def _walks(position: Position) -> Iterator[Moment]:
    results = WalkResult.objects.filter(walk__looks__position=position).distinct()
    for row in results.select_related("by", "first", "walk")[:MOST]:
        here = row.answer["looks"].get(position.code, "")
        yield Moment(
            row.at,
            "line walk",
            row.answer["sentence"],
            row.by.name,
            url=reverse("causes:walk", args=[row.walk_id]),
            picture=_mark({"clean": "fits", "trough": "caution", "crease": "refused"}.get(here, "notice")),
            more=" ".join(row.answer["contradictions"]),
        )


def _sheets(position: Position) -> Iterator[Moment]:
    rows = CauseSheet.objects.filter(position=position, closed_at__isnull=False).select_related("closed_by")
    for row in rows.prefetch_related("entries")[:MOST]:
        newest = {entry.cause: entry for entry in sorted(row.entries.all(), key=lambda entry: entry.pk)}
        outcomes = [str(entry.outcome) for entry in newest.values()]
        said = ", ".join(f"{outcomes.count(word)} {word}" for word in dict.fromkeys(sorted(outcomes)))
        failed = [entry.sentence for entry in newest.values() if entry.outcome == "fail"]
        if row.closed_at is not None:
            yield Moment(
                row.closed_at,
                "cause sheet",
                f"Closed: {said}",
                row.closed_by.name if row.closed_by else "",
                url=reverse("causes:sheet", args=[row.pk]),
                picture=_mark("refused" if failed else "caution" if "caution" in outcomes else "fits"),
                more=" ".join(failed),
            )


def _decisions(position: Position) -> Iterator[Moment]:
    for row in Decision.objects.filter(position=position).select_related("by").prefetch_related("products")[:MOST]:
        codes = ", ".join(sorted(product.code for product in row.products.all()))
        ends = f" at the {row.ends} end" if row.ends in ("operator", "drive") else ""
        yield Moment(
            row.at,
            "decision",
            f"{row.get_answer_display().capitalize()}{ends} for {codes}{' (emergency)' if row.emergency else ''}",
            row.by.name,
            picture=_mark("taped" if row.answer == Decision.Answer.TAPE else "notice"),
            more=row.reason,
        )


def _tape(position: Position) -> Iterator[Moment]:
    rows = TapeFact.objects.filter(position=position).select_related("by", "body", "recipe_version__recipe")
    for row in rows[:MOST]:
        recipe = f", {row.recipe_version}" if row.recipe_version else ""
        yield Moment(
            row.at,
            "tape",
            f"{row.get_kind_display().capitalize()}, now {row.state} (roller {row.body.serial}{recipe})",
            row.by.name,
            picture=_mark(row.state),
            photo=getattr(row, "photo_id", None),
            more=row.reason,
        )


def _measured(position: Position) -> Iterator[Moment]:
    rows = Measurement.objects.filter(position=position, quantity=Measurement.Quantity.ALIGNMENT)
    for row in rows.select_related("by", "gauge")[:MOST]:
        gauge = f" with {row.gauge.code}" if row.gauge else " without a gauge named"
        said = f"Misalignment {row.value:g} mm/m{gauge}"
        yield Moment(row.at, "alignment", said, row.by.name if row.by else "", picture=_mark("notice"))


def _studies(position: Position) -> Iterator[Moment]:
    for row in Study.objects.filter(position=position).select_related("by", "product")[:MOST]:
        said = f"Planned: {row.get_measure_display()} with {row.product.code}, {row.what}"
        url = reverse("causes:study", args=[row.pk])
        yield Moment(row.planned_at, "study", said, row.by.name, url=url, picture=_mark("not-evaluated"))
    results = StudyResult.objects.filter(study__position=position).select_related("by", "study")
    for found in results[:MOST]:
        word = {"better": "fits", "worse": "refused"}.get(found.verdict, "cannot-tell")
        yield Moment(
            found.at,
            "study",
            f"{found.study.get_measure_display()}: {found.verdict}",
            found.by.name,
            url=reverse("causes:study", args=[found.study_id]),
            picture=_mark(word),
            more=str(found.answer["sentences"][0]),
        )


def _orders(position: Position) -> Iterator[Moment]:
    for row in Order.objects.filter(sheet__position=position).select_related("by", "task__closed_by")[:MOST]:
        yield Moment(row.at, "maintenance", f"Ordered: {row.get_work_display()}", row.by.name, picture=_mark("do"))
        if row.task.closed_at is not None and row.task.closed_by is not None:
            said = f"Done: {row.get_work_display()}"
            by = row.task.closed_by.name
            yield Moment(row.task.closed_at, "maintenance", said, by, picture=_mark("fits"), more=row.task.outcome)


def _remarks(position: Position) -> Iterator[Moment]:
    for row in Remark.objects.filter(position=position).select_related("by")[:MOST]:
        yield Moment(row.at, row.kind, row.text, row.by.name, picture=_mark("notice"))


def _mark(word: str) -> str:
    key = word.replace(" ", "-")
    if key in VERDICTS:
        return mark_svg(verdict_mark(key), 28)
    return mark_svg(state_mark(key if key in STATES else "unknown"), 28)


SOURCES = (_sightings, _walks, _sheets, _decisions, _tape, _measured, _studies, _orders, _remarks)


def history_of(position: Position, until: datetime | None = None) -> list[Moment]:
    """Everything about a position, the newest first; up to a moment where one is asked for."""
    found = [moment for source in SOURCES for moment in source(position)]
    if until is not None:
        found = [moment for moment in found if moment.at <= until]
    return sorted(found, key=lambda moment: moment.at, reverse=True)
